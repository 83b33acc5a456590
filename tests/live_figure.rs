//! The figures shown while a hold goes on, against the evaluation of the same rows.

use stillrod::account::FigureName;
use stillrod::account::Growing;
use stillrod::account::evaluate;
use stillrod::procedure::HOLD;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::rehearsal::SHOP_FILE_NAME;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::scenario;
use stillrod::settings::Setup;
use stillrod::settings::Shop;

#[path = "support/play.rs"]
mod play;

/// The same recording with its hold ended at `until_s`.
fn cut_off(recording: &Recording, until_s: f64) -> Recording {
    let cut = |phase: &PhaseMark| PhaseMark {
        until_s: phase.until_s.min(until_s),
        ..phase.clone()
    };
    Recording::new(Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().to_vec(),
        tracks: recording.tracks().to_vec(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().iter().map(cut).collect(),
        entries: Vec::new(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    })
    .expect("as whole as it was")
}

/// At moments that are no multiples of anything, each figure agrees with the batch
/// evaluation within a tenth of its standard uncertainty.
#[test]
fn the_figure_so_far_is_that_of_the_rows_so_far() {
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).expect("a shop file");
    for (name, after_s) in [
        ("piston-seal-bypass", [47.3, 123.4, 300.0]),
        ("air-in-the-oil", [61.7, 200.9, 300.0]),
        ("hanging-load", [33.3, 150.1, 300.0]),
    ] {
        let scenario = scenario(name).expect("in the catalogue");
        let setup = Setup::parse("setup", &scenario.setup_toml(), Some(&shop)).expect("a setup");
        let recording = play::recording(&scenario);
        let start_s = recording.phase(HOLD).expect("a hold").from_s;
        let channels = recording.tracks().iter().map(|t| t.channel.clone());
        let mut growing = Growing::new(setup.subject.clone(), channels.collect(), start_s, start_s);
        let mut rows = recording.time_s().iter().enumerate().peekable();
        for after_s in after_s {
            let until_s = start_s + after_s;
            let mut last_s = start_s;
            while let Some((row, time_s)) = rows.next_if(|(_, t)| **t <= until_s) {
                growing.push(*time_s, recording.tracks().iter().map(|t| t.value(row)));
                last_s = *time_s;
            }
            let live = growing.evaluation().expect("long enough");
            let batch = evaluate(&cut_off(&recording, last_s), &setup.subject).expect("a hold");
            let mut n_compared = 0;
            for figure in &batch.figures {
                let Some(batch) = figure.measured else {
                    continue;
                };
                let found = live.figure(figure.name).and_then(|f| f.measured);
                let found = found.unwrap_or_else(|| panic!("{name}: no {:?}", figure.name));
                let apart = (found.value_si - batch.value_si) / batch.standard_si;
                println!(
                    "{name} {after_s:5.1} s {:10} {apart:6.3} u",
                    figure.name.word()
                );
                assert!(
                    apart.abs() < 0.1,
                    "{name} {:?} after {after_s} s",
                    figure.name
                );
                let wider = found.standard_si / batch.standard_si;
                assert!(
                    (0.9..1.1).contains(&wider),
                    "{name} {:?}: {wider}",
                    figure.name
                );
                n_compared += 1;
            }
            assert!(n_compared >= 3, "{name} after {after_s} s");
            assert!(batch.figure(FigureName::Drift).is_some());
        }
    }
}
