//! What a walk reads of a sensor that is read against its supply.

use super::*;
use firmware_protocol::Channel as OnBoard;
use firmware_protocol::ChannelKind;
use firmware_protocol::ChannelTable;
use firmware_protocol::Label;
use firmware_protocol::RangeUnit;

/// Five channels of a millivolt each code.
fn table() -> ChannelTable {
    let volts = OnBoard {
        label: Label::new("AI").expect("a label"),
        kind: ChannelKind::Other,
        unit: RangeUnit::Volt,
        resolution_bits: 13,
        code_low: 0,
        code_high: 6_000,
        value_low: 0.0,
        value_high: 6.0,
        good_lowest: 0,
        good_highest: 6_000,
    };
    ChannelTable::new(&[volts; 5]).expect("five channels")
}

fn untaken(read_in: &str, more: &str) -> Result<Untaken, crate::settings::SettingsError> {
    let text = format!(
        "[sensors.p_cap]\nchannel = 1\nsignal = \"0.5-4.5 V\"\nrange = [\"0 bar\", \"250 bar\"]\n\
         supply = \"measured\"\ncalibrated_by = \"shop\"\n\
         [sensors.p_cap.calibration]\ndate = \"2026-10-02\"\nwho = \"bench technician\"\n\
         reference = \"piston gauge G-02\"\nreference_certificate = \"TV-CAL-2026-007\"\n\
         reference_in = \"bar\"\nreference_uncertainty = \"0.02 bar\"\nread_in = \"{read_in}\"\ndegree = 1\n{more}"
    );
    Untaken::of("points.toml", &text, Some("p_cap"))
}

const SUPPLY: &str = "[sensors.v_supply]\nchannel = 4\nzero_uncertainty = \"1 mV\"\nspan_uncertainty_percent = 0.0\n";

/// 2.45 of 4.9 V is 2.5 of 5 V: code 2500, 125 bar of 250.
#[test]
fn a_walk_reads_volts_codes_and_values_referred_to_five_volts() {
    for (read_in, expected) in [("V", 2.5), ("counts", 2_500.0), ("bar", 125.0)] {
        let untaken = untaken(read_in, SUPPLY).expect("a file");
        let points = untaken.sensor.calibration.clone().expect("place holders");
        let read_out = out_of(&untaken, &points, &table()).expect("it fits");
        for codes in [[0, 2_500, 0, 0, 5_000], [0, 2_450, 0, 0, 4_900]] {
            let found = read_out.reading(&codes).expect("a reading");
            assert!((found - expected).abs() < 1e-9, "{read_in}: {found}");
        }
        // No supply, a broken wire.
        assert_eq!(read_out.reading(&[0, 2_500, 0, 0, 4_400]), None);
        assert_eq!(read_out.reading(&[0, 2_500]), None);
        assert_eq!(read_out.reading(&[0, 100, 0, 0, 5_000]), None);
    }
}

#[test]
fn a_walk_against_a_supply_wants_one_that_is_known() {
    let error = untaken("V", "").expect_err("no supply");
    assert!(
        error.message.contains("nothing measures it here"),
        "{error}"
    );
    assert_eq!(error.line, 5);
    let without_points = "[sensors.v_supply]\nchannel = 4\ncalibrated_by = \"shop\"\n\
         [sensors.v_supply.calibration]\ndate = \"2026-10-02\"\nwho = \"bench technician\"\n\
         reference = \"meter M-01\"\nreference_certificate = \"TV-CAL-2026-009\"\nreference_in = \"V\"\n\
         reference_uncertainty = \"0.5 mV\"\nread_in = \"V\"\ndegree = 1\n";
    let error = untaken("V", without_points).expect_err("no points");
    assert!(error.message.contains("--sensor v_supply first"), "{error}");
}
