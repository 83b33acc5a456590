//! One drawn hold without its leaks: foreseen from its setup, then played and judged.

use crate::draw::Hold;
use crate::draw::hold;
use crate::draw::usable;
use crate::play::played;
use crate::setup_text::setup_toml;
use serde::Deserialize;
use serde::Serialize;
use stillrod::account::Evaluation;
use stillrod::account::FigureName;
use stillrod::account::evaluate;
use stillrod::cylinder::Chamber;
use stillrod::daemon::intended::intended;
use stillrod::foresight::Intended;
use stillrod::foresight::lengths_needed;
use stillrod::foresight::tight_at;
use stillrod::health::examine;
use stillrod::recording::Recording;
use stillrod::rehearsal::physics::Course;
use stillrod::rehearsal::physics::Leak;
use stillrod::rehearsal::physics::WayOut;
use stillrod::settings::Setup;
use stillrod::verdict::Basis;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Limit;
use stillrod::verdict::judge;

/// The rule of the shop.
const RULE: DecisionRule = DecisionRule::Guarded { probability: 0.95 };

/// Longest hold that is played, s.
const LONGEST_S: f64 = 2400.0;

/// A figure of a hold.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Row {
    /// Number of the hold.
    pub hold: u64,
    /// How it is plumbed.
    pub plumbing: String,
    /// How good its sensors are.
    pub quality: String,
    /// Settling, s.
    pub settle_s: f64,
    /// Hold as drawn, s.
    pub hold_s: f64,
    /// The figure.
    pub figure: String,
    /// ± foreseen for the hold as drawn, SI.
    pub planned_si: f64,
    /// ± reached by it, SI; none where no figure was stated.
    pub reached_si: Option<f64>,
    /// A limit about that, SI.
    pub limit_si: f64,
    /// Where a tight unit was said to be able to pass, s.
    pub earliest_s: Option<f64>,
    /// Where most were said to pass, s.
    pub likely_s: Option<f64>,
    /// ± foreseen for that length with heat as expected, SI.
    pub planned_likely_si: Option<f64>,
    /// What came out of a tight unit held so long.
    pub tight: Option<String>,
    /// Its value and its ±, SI; none where no figure was stated.
    pub tight_value_si: Option<f64>,
    /// See there.
    pub tight_half_si: Option<f64>,
    /// The reason of its outcome.
    pub tight_reason: Option<String>,
    /// What came out of one at twice the limit.
    pub leaking: Option<String>,
}

/// Rows of a hold; none where its cylinder cannot stand it without a leak.
pub fn compared(seed: u64, index: u64) -> Vec<Row> {
    let (mut drawn, _) = hold(seed, index);
    leaks(&mut drawn, None);
    drawn.samples_per_s = 10;
    let Some(own) = course(&mut drawn) else {
        return Vec::new();
    };
    let played = played(drawn.clone(), &own);
    let Some(wanted) = foreseen_from(&drawn, &played.recording) else {
        return Vec::new();
    };
    let Some(paper) = tight_at(&wanted, drawn.hold_s) else {
        return Vec::new();
    };
    let reached = evaluate(&played.recording, &played.setup.subject).ok();
    let flow = match drawn.loaded() {
        Chamber::Cap => FigureName::CapLoss,
        Chamber::Rod => FigureName::RodGain,
    };
    let rate = match drawn.plumbing {
        crate::draw::Plumbing::Locked => FigureName::LeakDown,
        _ => FigureName::Drift,
    };
    let named: Vec<(FigureName, f64)> = [flow, rate]
        .into_iter()
        .filter_map(|name| Some((name, half(&paper, name)?)))
        .collect();
    // From two thirds to six times of the ± there.
    let times = 3f64.powf(2.0 * golden(index) - 0.37);
    // Movement and pressure follow heat, leak or none: a limit within that is for nobody.
    let by_heat = |name: FigureName| match name == rate {
        true => paper
            .figure(name)
            .and_then(|f| f.measured)
            .map_or(0.0, |m| m.value_si.abs()),
        false => 0.0,
    };
    let limits = named
        .iter()
        .map(|(name, half)| limit(*name, times * (half + 2.0 * by_heat(*name))));
    let wanted = Intended {
        limits: limits.collect(),
        ..wanted
    };
    let needs = lengths_needed(&wanted);
    let rows = named.into_iter().zip(&wanted.limits).zip(needs);
    rows.map(|(((name, planned_si), limit), needs)| {
        let mut row = Row {
            hold: index,
            plumbing: drawn.plumbing.word().into(),
            quality: drawn.quality.word().into(),
            settle_s: drawn.settle_s,
            hold_s: drawn.hold_s,
            figure: name.word().into(),
            planned_si,
            reached_si: reached.as_ref().and_then(|e| half(e, name)),
            limit_si: limit.number * limit.si_per_unit,
            earliest_s: needs.earliest_s(),
            likely_s: needs.likely_s(),
            planned_likely_si: None,
            tight: None,
            tight_value_si: None,
            tight_half_si: None,
            tight_reason: None,
            leaking: None,
        };
        let likely = needs.likely_s().and_then(|s| tight_at(&wanted, s));
        row.planned_likely_si = likely.and_then(|e| half(&e, name));
        held(&drawn, limit, &mut row);
        row
    })
    .collect()
}

/// Holds for as long as was said to be needed.
fn held(drawn: &Hold, limit: &Limit, row: &mut Row) {
    let Some(likely_s) = row.likely_s.filter(|s| *s <= LONGEST_S) else {
        return;
    };
    let limits = std::slice::from_ref(limit);
    let mut again = drawn.clone();
    again.hold_s = likely_s.ceil();
    if let Some(out) = outcome(&mut again, limits) {
        let figure = out.found.as_ref().and_then(|e| e.figure(limit.figure));
        row.tight_value_si = figure.and_then(|f| f.measured).map(|m| m.value_si);
        row.tight_half_si = out.found.as_ref().and_then(|e| half(e, limit.figure));
        row.tight = Some(out.word);
        row.tight_reason = Some(out.reason);
    }
    // A leak that moves the rod or empties the chamber is one past the piston.
    if matches!(limit.figure, FigureName::CapLoss | FigureName::RodGain) {
        leaks(&mut again, Some(2.0 * limit.number));
        row.leaking = outcome(&mut again, limits).map(|out| out.word);
    }
}

/// What came out of a hold.
struct Out {
    word: String,
    reason: String,
    found: Option<Evaluation>,
}

/// What comes out of a hold; None where the cylinder cannot stand it.
fn outcome(drawn: &mut Hold, limits: &[Limit]) -> Option<Out> {
    let own = course(drawn)?;
    let played = played(drawn.clone(), &own);
    let subject = &played.setup.subject;
    let found = evaluate(&played.recording, subject).map_err(|e| e.to_string());
    let flags = examine(
        &played.recording,
        &subject.piece,
        &subject.circuit,
        &played.setup.ratings,
    );
    let verdict = judge(found.as_ref().map_err(Clone::clone), &flags, limits, RULE);
    let judged = verdict.judged.iter().map(|judged| judged.reason.clone());
    let reasons: Vec<String> = judged.chain(verdict.reasons).collect();
    Some(Out {
        word: verdict.outcome.word().into(),
        reason: reasons.join("; "),
        found: found.ok(),
    })
}

/// Takes all leaks away, or leaves one past the piston, mL/min at the start.
fn leaks(drawn: &mut Hold, piston: Option<f64>) {
    let start = &drawn.specimen.start;
    let across_bar = (start.p_cap_pa - start.p_rod_pa).abs() / 1e5;
    let ills = &mut drawn.specimen.ills;
    ills.piston = piston.map_or(Leak::NONE, |q| Leak::with_exponent(q, across_bar, 0.8));
    ills.gland = Leak::NONE;
    for port in [&mut ills.cap_port, &mut ills.rod_port] {
        match port {
            WayOut::Plug(leak) => *leak = Leak::NONE,
            WayOut::Valve { fitting, valve, .. } => (*fitting, *valve) = (Leak::NONE, Leak::NONE),
            _ => {}
        }
    }
}

/// What becomes of the cylinder, and the setup that goes with it.
fn course(drawn: &mut Hold) -> Option<Course> {
    let course = Course::of(&drawn.specimen, drawn.settle_s + drawn.hold_s).ok()?;
    usable(drawn, &course).filter(|(_, why)| *why == "plan")?;
    drawn.setup_toml = setup_toml(drawn);
    Some(course)
}

/// What a fitter writes who plans the hold: besides the setup the steps of his sensors, and about
/// where rod and gauges will stand.
fn foreseen_from(drawn: &Hold, recording: &Recording) -> Option<Intended> {
    let start = &drawn.specimen.start;
    let (own, other) = match drawn.loaded() {
        Chamber::Cap => (start.p_cap_pa, start.p_rod_pa),
        Chamber::Rod => (start.p_rod_pa, start.p_cap_pa),
    };
    let meant = format!(
        "length = \"{} s\"\npressure = \"{:.0} bar\"\nother_pressure = \"{:.0} bar\"\nat = \"{:.0} mm\"\n",
        drawn.hold_s,
        (own / 1e5).max(1.0),
        other.max(0.0) / 1e5,
        start.x_m * 1e3
    );
    let mut text = drawn
        .setup_toml
        .replace(&format!("length = \"{} s\"\n", drawn.hold_s), &meant);
    let units = [(1e5, "bar"), (1e5, "bar"), (1e-3, "mm"), (1.0, "K")];
    for (place, (unit_si, unit)) in units.into_iter().enumerate() {
        let word = ["p_cap", "p_rod", "x", "t_oil"][place];
        let mut tracks = recording.tracks().iter().map(|track| &track.channel);
        let channel = tracks.find(|channel| channel.role.word() == word)?;
        let step = channel.resolution_si() / unit_si;
        let line = format!("channel = {place}\n");
        text = text.replace(&line, &format!("{line}resolution = \"{step:.9} {unit}\"\n"));
    }
    let setup = Setup::parse("setup.toml", &text, None).expect("a setup of our own");
    intended(&setup, None, None, RULE).map(|(intended, _)| intended)
}

fn half(evaluation: &Evaluation, name: FigureName) -> Option<f64> {
    let figure = evaluation.figure(name)?;
    Some(figure.coverage_factor * figure.measured?.standard_si)
}

/// Even over the holds, 0 to 1.
fn golden(index: u64) -> f64 {
    (index as f64 * 0.618_033_988_749_895).fract()
}

fn limit(figure: FigureName, si: f64) -> Limit {
    let number = si / figure.si_per_metric_unit();
    Limit {
        id: "about the ±".into(),
        figure,
        number,
        unit: figure.metric_unit().into(),
        si_per_unit: figure.si_per_metric_unit(),
        text: format!("{number} {}", figure.metric_unit()),
        at_pressure: None,
        at_temperature: None,
        source: "campaign".into(),
        basis: Basis::default(),
    }
}
