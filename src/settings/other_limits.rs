//! Setups and shop files for judging again: the same test, held against other limits.
//!
//! Nothing else of them changes. What comes of it is read and checked as any other.

use super::SettingsError;
use super::limits::parts as shop_parts;
use super::procedure::parts as setup_parts;
use super::read;
use toml::Table;
use toml::Value;

/// A setup, with the procedure that may be behind it, that names these limits and no others.
///
/// # Errors
/// If the text is no setup.
pub fn with_limits(file: &str, text: &str, ids: &[String]) -> Result<String, SettingsError> {
    let (own, _) = setup_parts(text);
    let mut setup: Table = read(file, own)?;
    let acceptance = setup.entry("acceptance");
    let acceptance = acceptance.or_insert_with(|| Value::Table(Table::new()));
    if let Value::Table(table) = acceptance {
        let ids = ids.iter().map(|id| Value::from(id.as_str()));
        table.insert("limits".into(), Value::Array(ids.collect()));
    }
    let written = toml::to_string(&setup).expect("a table that was read can be written");
    Ok(written + "\n" + &text[own.len()..])
}

/// A shop file, with the files behind it, that has one limit more: for a figure by its word, a
/// value as it was typed, and where it comes from.
pub fn with_limit(text: &str, (id, figure): (&str, &str), value: &str, source: &str) -> String {
    let own = shop_parts(text).own;
    let mut limit = Table::new();
    for (key, value) in [
        ("id", id),
        ("figure", figure),
        ("value", value),
        ("source", source),
    ] {
        limit.insert(key.into(), value.into());
    }
    let limit = toml::to_string(&limit).expect("texts can be written");
    format!("{own}\n[[limit]]\n{limit}\n{}", &text[own.len()..])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::account::FigureName;
    use crate::settings::Setup;
    use crate::settings::Shop;

    const SETUP: &str = include_str!("../../sample-runs/piston-seal-bypass/setup.toml");
    const SHOP: &str = include_str!("../rehearsal/year/tarn-valley-year.toml");

    #[test]
    fn the_same_setup_is_held_against_what_was_chosen() {
        let text = with_limit(
            SHOP,
            ("typed", "cap_loss"),
            "1,5 mL/min",
            "typed \"here\" by\nfitter 2 #: limits file x",
        );
        let shop = Shop::parse("shop.toml", &text).expect("a shop");
        let ids = ["typed".to_owned(), "rebuilt-80-drift".to_owned()];
        let again = with_limits("setup.toml", SETUP, &ids).expect("a setup");
        let again = Setup::parse("setup.toml", &again, Some(&shop)).expect("a setup");
        let found: Vec<(FigureName, f64)> =
            again.limits.iter().map(|l| (l.figure, l.number)).collect();
        assert_eq!(
            found,
            [(FigureName::CapLoss, 1.5), (FigureName::Drift, 0.08)]
        );
        let first = Setup::parse("setup.toml", SETUP, Some(&shop));
        if let Ok(first) = first {
            assert_eq!(
                (first.subject, first.plan, first.unit),
                (again.subject, again.plan, again.unit)
            );
        }
    }

    #[test]
    fn what_travels_behind_stays_behind() {
        let again = with_limits(
            "setup.toml",
            "[unit]\ntag = \"TV-0312\"\n#: procedure own\n[[step]]\n",
            &["a".to_owned()],
        )
        .expect("a setup");
        assert!(again.ends_with("#: procedure own\n[[step]]\n"), "{again}");
        assert!(again.contains("limits = [\"a\"]"), "{again}");
        let shop = with_limit(
            "[shop]\n#: limits file more.toml\n[[limit]]\n",
            ("b", "drift"),
            "1 mm/min",
            "x",
        );
        assert!(
            shop.ends_with("#: limits file more.toml\n[[limit]]\n"),
            "{shop}"
        );
        assert!(with_limits("setup.toml", "no toml", &[]).is_err());
    }
}
