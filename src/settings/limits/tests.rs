//! Tables of limits: what is read, what is refused and where, which row a unit has.

use super::value::value;
use super::*;
use crate::cylinder::Cylinder;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::quantity::Volume;
use crate::settings::Shop;
use crate::verdict::Limit;

const HEAD: &str = "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
                    [decision]\nrule = \"simple\"\n";
/// Lines of the head; a table begins on the next.
const N_HEAD: usize = 6;

fn cylinder(kind: Kind, bore_m: f64) -> Cylinder {
    let size = Dimensions {
        bore: Length::from_si(bore_m),
        rod: Length::from_si(0.5 * bore_m),
        stroke: Length::from_si(0.4),
        wall: None,
        cap_dead_volume: Volume::from_si(20e-6),
        rod_dead_volume: Volume::from_si(20e-6),
    };
    Cylinder::new(kind, size).expect("a cylinder")
}

/// A table of flows with the given lines between the brackets of its rows.
fn table_toml(keys: &str, rows: &[&str]) -> String {
    let rows: String = rows.iter().map(|row| format!("  {{ {row} }},\n")).collect();
    format!("[[limit_table]]\nid = \"t\"\nfigure = \"cap_loss\"\n{keys}rows = [\n{rows}]\n")
}

fn shop(text: &str) -> Shop {
    Shop::parse("shop.toml", &format!("{HEAD}{text}")).expect(text)
}

#[track_caller]
fn refused(text: &str, line: usize, part: &str) {
    let error = Shop::parse("shop.toml", &format!("{HEAD}{text}")).expect_err(text);
    assert!(error.to_string().contains(part), "{error}");
    assert_eq!(error.line, N_HEAD + line, "{error}");
}

const REBUILT: &str = "level = \"rebuilt\"\nsource = \"invented\"\n";

fn asking<'a>(cylinder: Option<&'a Cylinder>, seal: &'a str) -> Asking<'a> {
    Asking {
        cylinder,
        seal,
        level: Some(Level::Rebuilt),
        load_ratio: None,
    }
}

fn found(text: &str, asking: &Asking<'_>) -> Result<Vec<Limit>, String> {
    shop(text).limits[0].limits_for(asking)
}

#[test]
fn a_unit_has_the_row_of_its_bore_seal_kind_and_level() {
    let rows = [
        "bore = \"50 mm\", seal = \"PU lip\", kind = \"double_acting\", value = \"1 mL/min\"",
        "bore = \"63 mm\", seal = \"PU lip\", kind = \"double_acting\", value = \"2 mL/min\"",
        "bore = \"63 mm\", seal = \"Glide ring\", kind = \"double_acting\", value = \"3 mL/min\"",
        "bore = \"2.5 in\", seal = \"PU lip\", kind = \"double_acting\", value = \"4 mL/min\"",
        "bore = \"63 mm\", seal = \"PU lip\", kind = \"single_acting\", value = \"5 mL/min\"",
    ];
    let text = table_toml(REBUILT, &rows);
    for (kind, bore_m, seal, number) in [
        (Kind::DoubleActing, 0.050, "PU lip", 1.0),
        (Kind::DoubleActing, 0.063, " pu  LIP", 2.0),
        (Kind::DoubleActing, 0.063, "glide ring", 3.0),
        // 2.5 in typed in mm.
        (Kind::DoubleActing, 63.5e-3, "PU lip", 4.0),
        (Kind::SingleActing, 0.063, "PU lip", 5.0),
    ] {
        let unit = cylinder(kind, bore_m);
        let limits = found(&text, &asking(Some(&unit), seal)).expect("one row");
        assert_eq!(limits.len(), 1);
        assert!((limits[0].number - number).abs() < 1e-12, "{limits:?}");
    }
    let unit = cylinder(Kind::DoubleActing, 0.060);
    let error = found(&text, &asking(Some(&unit), "PU lip")).expect_err("between rows");
    assert_eq!(
        error,
        "limit table `t` has no row for this unit (rebuilt, bore 60 mm, double acting, seal PU lip); near: row 2: \
         rebuilt, bore 63 mm, seal PU lip, double acting / row 4: rebuilt, bore 2.5 in, seal PU lip, double acting / \
         row 1: rebuilt, bore 50 mm, seal PU lip, double acting. Nothing is taken from between rows: name another limit, \
         or give the table a row with its source"
    );
}

#[test]
fn three_levels_are_three_limits() {
    let rows = [
        "level = \"new\", bore = \"63 mm\", value = \"1 mL/min\"",
        "level = \"rebuilt\", bore = \"63 mm\", value = \"2 mL/min\"",
        "level = \"in_service\", bore = \"63 mm\", value = \"4 mL/min\"",
    ];
    let text = table_toml("source = \"invented\"\n", &rows);
    let unit = cylinder(Kind::DoubleActing, 0.063);
    for (level, number) in [
        (Level::New, 1.0),
        (Level::Rebuilt, 2.0),
        (Level::InService, 4.0),
    ] {
        let of_level = Asking {
            level: Some(level),
            ..asking(Some(&unit), "")
        };
        let limits = found(&text, &of_level).expect("a row");
        assert!((limits[0].number - number).abs() < 1e-12);
        assert!(
            limits[0].origin().contains(level.plain()),
            "{}",
            limits[0].origin()
        );
    }
    let none = Asking {
        level: None,
        ..asking(Some(&unit), "")
    };
    let error = found(&text, &none).expect_err("no level");
    assert!(
        error.contains("in [acceptance]") && error.contains("in_service"),
        "{error}"
    );
}

#[test]
fn the_edge_of_a_band_of_bores_belongs_to_the_band_above() {
    let rows = [
        "bore = \"40 mm to 63 mm\", value = \"1 mL/min\"",
        "bore = \"63 mm to 100 mm\", value = \"2 mL/min\"",
    ];
    let text = table_toml(REBUILT, &rows);
    let number = |bore_m: f64| {
        let unit = cylinder(Kind::DoubleActing, bore_m);
        found(&text, &asking(Some(&unit), "")).map(|limits| limits[0].number)
    };
    for (bore_m, expected) in [(0.040, 1.0), (0.0629, 1.0), (0.063, 2.0), (0.0999, 2.0)] {
        assert_eq!(number(bore_m), Ok(expected), "{bore_m}");
    }
    assert!(number(0.0399).is_err() && number(0.100).is_err());
}

#[test]
fn rows_that_differ_in_what_is_measured_are_left_to_the_verdict() {
    let rows = [
        "bore = \"63 mm\", oil_temperature = \"20 °C to 35 °C\", value = \"1 mL/min\"",
        "bore = \"63 mm\", oil_temperature = \"95 °F to 120 °F\", value = \"2 mL/min\"",
        "bore = \"80 mm\", oil_temperature = \"20 °C to 35 °C\", value = \"3 mL/min\"",
    ];
    let unit = cylinder(Kind::DoubleActing, 0.063);
    // 95 °F is 35 °C: edges of two units meet and do not overlap.
    let limits = found(&table_toml(REBUILT, &rows), &asking(Some(&unit), "")).expect("two rows");
    assert_eq!(limits.len(), 2);
    let words: Vec<String> = limits.iter().map(Limit::origin).collect();
    assert_eq!(
        words[1],
        "invented; row 2: rebuilt, bore 63 mm, oil 95 °F to 120 °F"
    );
}

#[test]
fn rows_that_could_both_hold_are_refused_where_the_second_stands() {
    for (first, second) in [
        ("bore = \"63 mm\"", "bore = \"63 mm\""),
        ("bore = \"2.5 in\"", "bore = \"63.5 mm\""),
        ("bore = \"60 mm to 70 mm\"", "bore = \"63 mm\""),
        ("bore = \"60 mm to 70 mm\"", "bore = \"69 mm to 80 mm\""),
        ("bore = \"60 mm to 70 mm\"", "bore = \"50 mm to 80 mm\""),
        ("seal = \"PU lip\"", "seal = \"pu  lip\""),
        (
            "pressure = \"100 bar to 150 bar\"",
            "pressure = \"14 MPa to 20 MPa\"",
        ),
        (
            "oil_temperature = \"20 °C to 40 °C\"",
            "oil_temperature = \"103 °F to 120 °F\"",
        ),
    ] {
        let rows = [first, second].map(|row| format!("{row}, value = \"1 mL/min\""));
        let rows = [rows[0].as_str(), rows[1].as_str()];
        refused(&table_toml(REBUILT, &rows), 8, "could both be for one unit");
    }
}

#[test]
fn what_a_table_lacks_is_said_at_its_line() {
    let row = "bore = \"63 mm\", value = \"1 mL/min\"";
    for (keys, line, part) in [
        ("source = \"m\"\n", 6, "needs a level"),
        ("level = \"rebuilt\"\n", 6, "needs a source"),
        ("level = \"rebuilt\"\nsource = \" \"\n", 7, "needs a source"),
        ("level = \"old\"\nsource = \"m\"\n", 4, "in_service"),
        ("measured_at = \"load\"\n", 1, "only a drift"),
    ] {
        refused(&table_toml(keys, &[row]), line, part);
    }
    refused(&table_toml(REBUILT, &[]), 1, "no rows");
    let once = table_toml(REBUILT, &[row]);
    refused(&format!("{once}{once}"), 9, "stands twice");
}

#[test]
fn what_a_row_lacks_is_said_at_its_line() {
    let first = "bore = \"63 mm\", value = \"1 mL/min\"";
    for (bad, part) in [
        ("bore = \"80 mm\"", "value"),
        (
            "seal = \"PU\", value = \"1 mL/min\"",
            "row 2 has no `bore`, row 1 has",
        ),
        (
            "bore = \"80 mm\", seal = \"PU\", value = \"1 mL/min\"",
            "row 2 has `seal`, row 1 has not",
        ),
        (
            "level = \"new\", bore = \"80 mm\", value = \"1 mL/min\"",
            "has a level already",
        ),
        (
            "bore = \"80 mm\", value = \"1 bar\"",
            "row 2: `1 bar` is no flow",
        ),
        ("bore = \"80 mm\", value = \"0 mL/min\"", "above zero"),
        (
            "bore = \"80\", value = \"1 mL/min\"",
            "row 2: `80` is no length",
        ),
        (
            "bore = \"80 mm to 70 mm\", value = \"1 mL/min\"",
            "smaller to the larger",
        ),
    ] {
        refused(&table_toml(REBUILT, &[first, bad]), 8, part);
    }
    for (bad, part) in [
        ("value = \"1 mL/min\"", "says nothing that it holds for"),
        (
            "oil_temperature = \"40 °C\", value = \"1 mL/min\"",
            "\"35 °C to 45 °C\"",
        ),
        (
            "pressure = \"160 bar\", value = \"1 mL/min\"",
            "no band of pressure",
        ),
        ("seal = \" \", value = \"1 mL/min\"", "empty seal"),
        (
            "bore = \"63 mm\", value = \"9 drops/min\"",
            "drop = \"0.05 mL\"",
        ),
    ] {
        refused(&table_toml(REBUILT, &[bad]), 7, part);
    }
}

#[test]
fn what_a_setup_does_not_say_is_asked_for() {
    let by_seal = table_toml(REBUILT, &["seal = \"PU lip\", value = \"1 mL/min\""]);
    let unit = cylinder(Kind::DoubleActing, 0.063);
    let error = found(&by_seal, &asking(Some(&unit), " ")).expect_err("no seal");
    assert!(
        error.contains("in [unit]") && error.contains("PU lip"),
        "{error}"
    );
    let by_bore = table_toml(REBUILT, &["bore = \"63 mm\", value = \"1 mL/min\""]);
    let error = found(&by_bore, &asking(None, "")).expect_err("a chamber");
    assert!(error.contains("plain chamber"), "{error}");
}

/// Own sums: an amount over a time is that rate; rod speed × bore area is π/4 D² v, of
/// 63 mm and 2 mm/min 6.2345 mL/min; a drop is as large as it is said to be.
#[test]
fn each_form_of_a_value_is_the_rate_it_says() {
    let drop = Some(Volume::from_si(0.05e-6));
    for (figure, text, unit, si) in [
        (
            FigureName::CapLoss,
            "5 mL in 10 min",
            "mL in 10 min",
            5e-6 / 600.0,
        ),
        (
            FigureName::CapLoss,
            "0,3 in³ in 10min",
            "in³ in 10min",
            0.3 * 16.387_064e-6 / 600.0,
        ),
        (
            FigureName::CapLoss,
            "1 US gal in 24 h",
            "US gal in 24 h",
            3.785_411_784e-3 / 86_400.0,
        ),
        (
            FigureName::CapLoss,
            "12 drops/min",
            "drops/min",
            12.0 * 0.05e-6 / 60.0,
        ),
        (
            FigureName::CapLoss,
            "7 drops in 10 min",
            "drops in 10 min",
            7.0 * 0.05e-6 / 600.0,
        ),
        (
            FigureName::Drift,
            "3 mm in 10 min",
            "mm in 10 min",
            3e-3 / 600.0,
        ),
        (
            FigureName::Drift,
            "1 in in 15 min",
            "in in 15 min",
            25.4e-3 / 900.0,
        ),
        (FigureName::Drift, "1 in/min", "in/min", 25.4e-3 / 60.0),
        (
            FigureName::LeakDown,
            "5 bar in 10 min",
            "bar in 10 min",
            5e5 / 600.0,
        ),
    ] {
        let found = value(figure, text, drop).expect(text);
        assert_eq!((found.unit.as_str(), found.text.as_str()), (unit, text));
        let error = found.number * found.si_per_unit / si - 1.0;
        assert!(error.abs() < 1e-14, "{text}: {found:?}");
    }
}

#[test]
fn a_value_that_could_mean_something_else_is_refused() {
    let drop = Some(Volume::from_si(0.05e-6));
    for (figure, text, part) in [
        (
            FigureName::CapLoss,
            "3 mm in 10 min",
            "3 mm in 10 min rod speed",
        ),
        (FigureName::CapLoss, "2 mm/min", "times the bore area"),
        (
            FigureName::Drift,
            "2 mm/min rod speed",
            "is a flow, and drift is none",
        ),
        (FigureName::Drift, "3 in 10 min", "unit"),
        (FigureName::CapLoss, "5 mL in 0 min", "above zero"),
        (FigureName::CapLoss, "5 mL in 10 km", "no time"),
        (FigureName::CapLoss, "-5 mL in 10 min", "above zero"),
        (FigureName::CapLoss, "5 drops", "12 drops in 10 min"),
        (FigureName::CapLoss, "many drops/min", "number"),
    ] {
        let error = value(figure, text, drop).expect_err(text);
        assert!(error.contains(part), "{text}: {error}");
    }
}

#[test]
fn a_rod_speed_is_taken_times_the_bore_area_of_the_unit() {
    let text = table_toml(
        REBUILT,
        &["bore = \"40 mm to 100 mm\", value = \"2 mm/min rod speed\""],
    );
    let unit = cylinder(Kind::DoubleActing, 0.063);
    let limits = found(&text, &asking(Some(&unit), "")).expect("a row");
    let ml_min = limits[0].number * limits[0].si_per_unit * 60e6;
    assert!((ml_min - 6.234_490).abs() < 1e-5, "{ml_min}");
    assert_eq!(
        (limits[0].unit.as_str(), limits[0].text.as_str()),
        ("mm/min rod speed", "2 mm/min rod speed")
    );
    assert!(
        limits[0]
            .origin()
            .ends_with("rod speed × bore area of 31.17 cm²"),
        "{}",
        limits[0].origin()
    );
    let plunger = cylinder(Kind::Plunger, 0.063);
    let error = found(&text, &asking(Some(&plunger), "")).expect_err("fills no bore");
    assert!(error.contains("state the flow"), "{error}");
}

/// 20 mm at a load that moves 2.5 times as far as the rod is 8 mm at the rod.
#[test]
fn a_limit_at_the_load_is_that_of_the_rod_by_the_motion_ratio() {
    let text = "[[limit]]\nid = \"l\"\nfigure = \"drift\"\nvalue = \"20 mm in 5 min\"\nmeasured_at = \"load\"\nsource = \"m\"\n";
    let none = asking(None, "");
    let error = found(text, &none).expect_err("no ratio");
    assert!(error.contains("`motion_ratio`"), "{error}");
    let geared = Asking {
        load_ratio: Some(2.5),
        ..none
    };
    let limits = found(text, &geared).expect("a limit");
    let at_rod = limits[0].number * limits[0].si_per_unit;
    assert!((at_rod - 8e-3 / 300.0).abs() < 1e-15, "{at_rod}");
    assert_eq!(
        limits[0].origin(),
        "m; at the load, which moves 2.5 times as far as the rod"
    );
}
