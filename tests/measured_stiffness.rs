//! A stiffness that was measured before the hold, in the account.
//!
//! The stiffness itself is computed from what the practice bench's cylinder is made of, by the
//! thermodynamic identities, with none of the account's code: pressed in seconds, oil keeps its
//! heat, 1/K_s = 1/K_T − α·(∂T/∂p)_s; pressed slowly it does not.

use stillrod::account::Doubt;
use stillrod::account::Evaluation;
use stillrod::account::FigureName;
use stillrod::account::evaluate;
use stillrod::cylinder::Chamber;
use stillrod::oil::AIR_IN_A_HOLD;
use stillrod::oil::AeratedOil;
use stillrod::quantity::Length;
use stillrod::quantity::unit::millimeter;
use stillrod::rehearsal::SHOP_FILE_NAME;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::scenario;
use stillrod::settings::Setup;
use stillrod::settings::Shop;

#[path = "support/play.rs"]
mod play;

const FROM_PA: f64 = 60e5;
const TO_PA: f64 = 140e5;
const ML_MIN: f64 = 1e-6 / 60.0;

/// What a measurement without error would have said of the cap side, GPa.
fn true_stiffness_gpa(scenario: &Scenario, pace: &str) -> f64 {
    let specimen = &scenario.specimen;
    let oil = &specimen.oil;
    let gamma = 1.0 + oil.expansion_per_k * oil.isentropic_pa * oil.pressing_k_per_pa;
    let law = AeratedOil {
        stiffness_pa: oil.isentropic_pa / gamma,
        stiffening: oil.stiffening,
        air: specimen.cap.air,
        air_exponent: AIR_IN_A_HOLD,
    };
    let warming = match pace {
        "quick" => oil.expansion_per_k * oil.pressing_k_per_pa,
        _ => 0.0,
    };
    let at = Length::new::<millimeter>((specimen.start.x_m * 1e3).round());
    let volume = specimen.cylinder.volume(Chamber::Cap, at).value;
    let hose = specimen.cap.hose_m3;
    let round =
        (volume / specimen.wall_pa + hose / specimen.cap.hose_pa) / (volume + hose) - warming;
    let squeeze = law.log_density(TO_PA) - law.log_density(FROM_PA) + (TO_PA - FROM_PA) * round;
    (TO_PA - FROM_PA) / squeeze / 1e9
}

/// The hold of a locked rod, where stiffness is what matters, with `lines` in its setup.
fn evaluated(scenario: &Scenario, lines: &str) -> Evaluation {
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).expect("a shop file");
    let text = format!("{}\n{lines}", scenario.setup_toml());
    let setup = Setup::parse("setup.toml", &text, Some(&shop)).expect("a setup");
    evaluate(&play::recording(scenario), &setup.subject).expect("a hold")
}

fn table(scenario: &Scenario, pace: &str, gpa: f64) -> String {
    format!(
        "[measured_stiffness]\nchamber = \"cap\"\nrod_at = \"{:.0} mm\"\nfrom = \"60 bar\"\nto = \"140 bar\"\n\
         pace = \"{pace}\"\nstiffness = \"{gpa:.4} GPa\"\nuncertainty = \"1 %\"\n",
        scenario.specimen.start.x_m * 1e3
    )
}

/// Both paces say the same of the same oil; the figure is two thirds as uncertain, or less,
/// and the truth stays inside.
#[test]
fn a_measured_stiffness_sharpens_the_flow_of_a_locked_rod() {
    let scenario = scenario("locked-rod-bypass").expect("in the catalogue");
    let truth = scenario.truth().expect("physics").start.cap_loss;
    let figure = |evaluation: &Evaluation| {
        let figure = evaluation.figure(FigureName::CapLoss).expect("a flow");
        let measured = figure.measured.expect("a value");
        println!(
            "{:.4} ± {:.4} mL/min (true {:.4}); {:?}",
            measured.value_si / ML_MIN,
            figure.coverage_factor * measured.standard_si / ML_MIN,
            truth / ML_MIN,
            figure.budget.first().map(|c| c.source)
        );
        assert!(
            (figure.lower_si..=figure.upper_si).contains(&truth),
            "{figure:?}"
        );
        measured
    };
    let without = figure(&evaluated(&scenario, ""));
    let with = ["quick", "slow"].map(|pace| {
        let gpa = true_stiffness_gpa(&scenario, pace);
        figure(&evaluated(&scenario, &table(&scenario, pace, gpa)))
    });
    for with in with {
        assert!(
            with.standard_si < 0.67 * without.standard_si,
            "{with:?} {without:?}"
        );
    }
    let apart = (with[0].value_si - with[1].value_si).abs();
    assert!(apart < 0.5 * with[0].standard_si, "{with:?}");
}

/// Oil half as stiff, said to be known to 1 %, is not what held this rod.
#[test]
fn a_stiffness_that_cannot_be_gives_no_flow() {
    let scenario = scenario("locked-rod-bypass").expect("in the catalogue");
    let gpa = 0.5 * true_stiffness_gpa(&scenario, "quick");
    let evaluation = evaluated(&scenario, &table(&scenario, "quick", gpa));
    assert!(evaluation.figure(FigureName::CapLoss).is_none());
    let is_no_fit = |doubt: &Doubt| matches!(doubt, Doubt::NoFit { .. });
    assert!(
        evaluation.doubts.iter().any(is_no_fit),
        "{:?}",
        evaluation.doubts
    );
}
