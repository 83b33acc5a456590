//! The rig's own leak: hoses capped without the cylinder, then the cylinder on the same rig.
//! Numbers by own computation: oil that leaves a rigid chamber lets its pressure fall by
//! K/V times its volume.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::path::Path;
use stillrod::cylinder::Chamber;
use stillrod::daemon::investigation::File;
use stillrod::daemon::investigation::Investigated;
use stillrod::daemon::investigation::investigated;
use stillrod::daemon::judge::JudgedFile;
use stillrod::daemon::judge::judge_hold;
use stillrod::settings::SeenFile;
use stillrod::verdict::Outcome;

const SHOP: &str = "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
    [decision]\nrule = \"guarded\"\nprobability = 0.95\n\
    [[limit]]\nid = \"loss\"\nfigure = \"cap_loss\"\nvalue = \"0.40 mL/min\"\nsource = \"test\"\n";

const OIL: &str = "[oil]\nname = \"VG 46\"\nviscosity_40c = \"46 mm²/s\"\nviscosity_100c = \"6.8 mm²/s\"\n\
    expansion = \"7e-4 1/K\"\nstiffness = \"1.6 GPa\"\n[hold]\nsettle = \"0 s\"\nlength = \"300 s\"\n\
    [sensors.p_cap]\nzero_uncertainty = \"0.05 bar\"\nspan_uncertainty_percent = 0.1\n";

const CYLINDER: &str = "[cylinder]\nkind = \"double_acting\"\nbore = \"63 mm\"\nrod = \"36 mm\"\nstroke = \"400 mm\"\n\
    cap_dead_volume = \"20 mL\"\nrod_dead_volume = \"20 mL\"\n\
    [circuit]\ncap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"pushed_in\"\n\
    [sensors.x]\nzero_uncertainty = \"0.1 mm\"\nspan_uncertainty_percent = 0.05\n";

/// Oil of the rig, and what a pascal is worth in it: 200 mL of 1.6 GPa, ten times stiffer by
/// each pascal, in bare steel of 15 GPa.
const RIG_M3: f64 = 200e-6;

fn rig_by_pa(pa: f64) -> f64 {
    RIG_M3 * (1.0 / (1.6e9 + 10.0 * pa) + 1.0 / 15e9)
}

fn judged(
    folder: &Path,
    name: &str,
    setup: &str,
    header: &str,
    row: &dyn Fn(f64) -> String,
) -> JudgedFile {
    let rows: String = (0..=3050)
        .map(|i| f64::from(i) * 0.1)
        .map(|t| format!("{t:.1},{}\n", row(t)))
        .collect();
    let path = folder.join(name);
    std::fs::write(&path, format!("{header}\n{rows}")).unwrap();
    let text = format!("[unit]\ntag = \"TV-0312\"\n{OIL}{setup}");
    let (setup, shop) = (
        ("setup.toml".to_owned(), text),
        ("shop.toml".to_owned(), SHOP.to_owned()),
    );
    judge_hold(&path, Some(&setup), Some(&shop)).unwrap()
}

/// A dither as a logger has it, from -1 to 1 and without a tone, which would be told of;
/// without it nothing could be said of what is below a step.
fn dither(t: f64) -> f64 {
    2.0 * ((t * 12.9898).sin() * 43_758.545).rem_euclid(1.0) - 1.0
}

fn rig(folder: &Path, leak_ml_min: f64) -> JudgedFile {
    let setup = "[chamber]\nvolume = \"200 mL\"\n";
    let leak = leak_ml_min * 1e-6 / 60.0;
    judged(folder, "rig.csv", setup, "t_s,p_cap_bar", &move |t| {
        let fall = leak * t / rig_by_pa(150e5);
        format!("{:.4}", 160.0 - fall / 1e5 + 0.002 * dither(t))
    })
}

/// The cap side at a constant pressure loses oil by the area and the way of the rod.
fn cylinder(folder: &Path, loss_ml_min: f64) -> JudgedFile {
    let setup = format!("{CYLINDER}[acceptance]\nlimits = [\"loss\"]\n");
    let mm_s = loss_ml_min * 1e3 / 60.0 / 3117.25;
    judged(folder, "a.csv", &setup, "t_s,p_cap_bar,x_mm", &move |t| {
        let x = 300.0 - mm_s * t + 0.002 * dither(t);
        format!("{:.4},{x:.5}", 160.0 + 0.002 * dither(t + 0.5))
    })
}

fn together(folder: &Path, rig_ml_min: f64, loss_ml_min: f64) -> Investigated {
    let both = [
        ("rig.csv", rig(folder, rig_ml_min)),
        ("a.csv", cylinder(folder, loss_ml_min)),
    ];
    let paths = both.each_ref().map(|(name, _)| folder.join(name));
    let files: Vec<File<'_>> = paths
        .iter()
        .zip(&both)
        .map(|(path, (_, judged))| File { path, judged })
        .collect();
    investigated(&files, Some(&SeenFile::default()))
        .unwrap()
        .unwrap()
}

/// 0.35 mL/min out of 200 mL: 27 bar/min, and the flow comes out of the pressure again.
#[test]
fn the_leak_of_a_rig_comes_out_of_its_pressure_and_stiffness() {
    let folder = tempfile::tempdir().unwrap();
    for leak in [0.05, 0.2] {
        let rig = rig(folder.path(), leak);
        let counted = rig
            .judgement
            .evaluation
            .as_ref()
            .unwrap()
            .counted
            .as_ref()
            .unwrap();
        let (mean, standard) = counted.sum(Chamber::Cap).unwrap();
        let found = mean * 60e6;
        assert!((found - leak).abs() < 0.06 * leak, "{found}");
        // Heat that nobody measures: 0.13 K/min of 200 mL are 0.017 mL/min.
        let expanded = 1.96 * standard * 60e6;
        assert!((0.03..0.06).contains(&expanded), "{expanded}");
    }
}

/// A practitioner's case: a rig that takes up most of the limit is not judged as the cylinder,
/// whatever the hold by itself would say.
#[test]
fn a_rig_that_takes_up_the_limit_leaves_it_undecided() {
    let folder = tempfile::tempdir().unwrap();
    let alone = cylinder(folder.path(), 0.60);
    assert_eq!(alone.judgement.verdict.outcome, Outcome::Fail);
    let found = together(folder.path(), 0.35, 0.60);
    assert_eq!(found.outcome, Outcome::Undecided, "{:?}", found.judged);
    assert!(
        found.judged[0]
            .reason
            .contains("of the limit of 0.40 mL/min"),
        "{:?}",
        found.judged
    );
    // A rig that is tight enough changes nothing.
    let found = together(folder.path(), 0.01, 0.60);
    assert_eq!(found.outcome, Outcome::Fail, "{:?}", found.judged);
}
