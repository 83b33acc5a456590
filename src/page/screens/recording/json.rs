//! Values of a stretch as JSON for the script of this sheet.
//!
//! Times are s; each value has as many decimals as its readings. What is no number is null.

use crate::page::view::RecordingValues;
use std::fmt::Write as _;

/// `{"columns": [[from, until, readings, gap]…], "lanes": [{name, unit, decimals, values}…]}`.
pub(super) fn written(values: &RecordingValues) -> String {
    let mut text = String::from("{\"columns\":[");
    for (index, column) in values.columns.iter().enumerate() {
        let _ = write!(
            text,
            "{}[{:.4},{:.4},{},{}]",
            comma(index),
            column.from_s,
            column.until_s,
            column.n_readings,
            u8::from(column.has_gap)
        );
    }
    text.push_str("],\"lanes\":[");
    for (index, lane) in values.lanes.iter().enumerate() {
        let (name, unit) = (quoted(&lane.name), quoted(&lane.unit));
        let decimals = lane.decimals;
        let _ = write!(
            text,
            "{}{{\"name\":{name},\"unit\":{unit},\"decimals\":{decimals},\"values\":[",
            comma(index)
        );
        for (index, value) in lane.values.iter().enumerate() {
            text.push_str(comma(index));
            match value.filter(|(low, mean, high)| (low + mean + high).is_finite()) {
                Some((low, mean, high)) => {
                    let _ = write!(
                        text,
                        "[{low:.decimals$},{mean:.decimals$},{high:.decimals$}]"
                    );
                }
                None => text.push_str("null"),
            }
        }
        text.push_str("]}");
    }
    text.push_str("]}");
    text
}

fn comma(index: usize) -> &'static str {
    if index == 0 { "" } else { "," }
}

fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for sign in text.chars() {
        match sign {
            '"' | '\\' => quoted.extend(['\\', sign]),
            sign if sign.is_control() => {
                let _ = write!(quoted, "\\u{:04x}", u32::from(sign));
            }
            sign => quoted.push(sign),
        }
    }
    quoted.push('"');
    quoted
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::view::ValueColumn;
    use crate::page::view::ValueLane;

    #[test]
    fn values_are_written_with_their_decimals_and_gaps_are_null() {
        let column = |from_s, n_readings, has_gap| ValueColumn {
            from_s,
            until_s: from_s + 0.5,
            n_readings,
            has_gap,
        };
        let values = RecordingValues {
            columns: vec![column(0.0, 1, false), column(1.0, 20, true)],
            lanes: vec![ValueLane {
                name: "a \"b\"\n".into(),
                unit: "°C".into(),
                decimals: 1,
                values: vec![Some((20.0, 20.04, f64::NAN)), Some((-1.0, 0.25, 2.0))],
            }],
        };
        let text = written(&values);
        assert_eq!(
            text,
            "{\"columns\":[[0.0000,0.5000,1,0],[1.0000,1.5000,20,1]],\"lanes\":[{\"name\":\"a \\\"b\\\"\\u000a\",\
             \"unit\":\"°C\",\"decimals\":1,\"values\":[null,[-1.0,0.2,2.0]]}]}"
        );
    }
}
