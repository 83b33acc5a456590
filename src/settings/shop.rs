//! `shop.toml`: the shop, its decision rule, its limits.

use super::SettingsError;
use super::read;
use super::text::Text;
use crate::account::FigureName;
use crate::quantity::GaugePressure;
use crate::quantity::PressureRate;
use crate::quantity::Quantity;
use crate::quantity::QuantityError;
use crate::quantity::Temperature;
use crate::quantity::UnitSystem;
use crate::quantity::Velocity;
use crate::quantity::VolumeRate;
use crate::quantity::parse;
use crate::verdict::DecisionRule;
use crate::verdict::Limit;
use serde::Deserialize;
use toml::Spanned;

/// A shop as its file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shop {
    /// Its name, as on the certificate.
    pub name: String,
    /// Units it reads.
    pub units: UnitSystem,
    /// Name of its time zone.
    pub time_zone: String,
    /// Letters that its certificate numbers begin with.
    pub number_prefix: String,
    /// How uncertainty counts at a limit.
    pub rule: DecisionRule,
    /// Its limits.
    pub limits: Vec<Limit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ShopFile {
    shop: ShopTable,
    decision: Spanned<DecisionTable>,
    #[serde(default)]
    limit: Vec<Spanned<LimitTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ShopTable {
    name: String,
    #[serde(default)]
    units: Units,
    time_zone: String,
    number_prefix: String,
}

#[derive(Deserialize, Default, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum Units {
    #[default]
    Metric,
    Inch,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DecisionTable {
    rule: Rule,
    probability: Option<f64>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum Rule {
    Simple,
    Guarded,
    WhollyInside,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitTable {
    id: String,
    figure: String,
    value: Spanned<String>,
    at_pressure: Option<Text<GaugePressure>>,
    at_temperature: Option<Text<Temperature>>,
    source: String,
}

impl Shop {
    /// Reads a shop file; `file` is its name in errors.
    ///
    /// # Errors
    /// With file, line, what is wrong and what would be right.
    pub fn parse(file: &str, text: &str) -> Result<Self, SettingsError> {
        let found: ShopFile = read(file, text)?;
        let rule = rule(file, text, &found.decision)?;
        let mut limits: Vec<Limit> = Vec::new();
        for table in &found.limit {
            let limit = limit(file, text, table)?;
            if limits.iter().any(|l| l.id == limit.id) {
                let message = format!("limit `{}` stands twice; give each its own id", limit.id);
                return Err(SettingsError::at(file, text, table.span().start, message));
            }
            limits.push(limit);
        }
        Ok(Self {
            name: found.shop.name,
            units: match found.shop.units {
                Units::Metric => UnitSystem::Metric,
                Units::Inch => UnitSystem::Inch,
            },
            time_zone: found.shop.time_zone,
            number_prefix: found.shop.number_prefix,
            rule,
            limits,
        })
    }
}

fn rule(
    file: &str,
    text: &str,
    table: &Spanned<DecisionTable>,
) -> Result<DecisionRule, SettingsError> {
    let wrong = |message: &str| Err(SettingsError::at(file, text, table.span().start, message));
    match (table.get_ref().rule, table.get_ref().probability) {
        (Rule::Simple, None) => Ok(DecisionRule::Simple),
        (Rule::WhollyInside, None) => Ok(DecisionRule::WhollyInside),
        (Rule::Simple | Rule::WhollyInside, Some(_)) => wrong(
            "only rule \"guarded\" takes a probability; remove it or write rule = \"guarded\"",
        ),
        (Rule::Guarded, Some(probability)) if probability > 0.5 && probability < 1.0 => {
            Ok(DecisionRule::Guarded { probability })
        }
        (Rule::Guarded, _) => {
            wrong("rule \"guarded\" needs a probability above 0.5 and below 1, for example 0.95")
        }
    }
}

fn limit(file: &str, text: &str, table: &Spanned<LimitTable>) -> Result<Limit, SettingsError> {
    let LimitTable {
        id,
        figure,
        value,
        at_pressure,
        at_temperature,
        source,
    } = table.get_ref();
    let start = table.span().start;
    let wrong = |offset: usize, message: String| SettingsError::at(file, text, offset, message);
    let name = FigureName::from_word(figure).ok_or_else(|| {
        let known: Vec<&str> = FigureName::ALL.iter().map(|n| n.word()).collect();
        wrong(
            start,
            format!(
                "limit `{id}`: `{figure}` is no figure; write one of {}",
                known.join(", ")
            ),
        )
    })?;
    if source.trim().is_empty() {
        return Err(wrong(
            start,
            format!("limit `{id}` needs a source: who set it, where it is written"),
        ));
    }
    let typed = match name {
        FigureName::Drift => numbers::<Velocity>(value.get_ref()),
        FigureName::LeakDown => numbers::<PressureRate>(value.get_ref()),
        _ => numbers::<VolumeRate>(value.get_ref()),
    };
    let (number, unit, si_per_unit, as_typed) =
        typed.map_err(|error| wrong(value.span().start, format!("limit `{id}`: {error}")))?;
    if number <= 0.0 {
        return Err(wrong(
            value.span().start,
            format!("limit `{id}` must be above zero, it is {as_typed}"),
        ));
    }
    Ok(Limit {
        id: id.clone(),
        figure: name,
        number,
        unit,
        si_per_unit,
        text: as_typed,
        at_pressure: at_pressure.as_ref().map(Text::get),
        at_temperature: at_temperature.as_ref().map(Text::get),
        source: source.clone(),
    })
}

fn numbers<Q: Quantity>(text: &str) -> Result<(f64, &'static str, f64, String), QuantityError> {
    let typed = parse::<Q>(text)?;
    Ok((typed.number, typed.unit, typed.si_per_unit, typed.text))
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str =
        "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n";
    const RULE: &str = "[decision]\nrule = \"guarded\"\nprobability = 0.95\n";

    fn with(tail: &str) -> Result<Shop, SettingsError> {
        Shop::parse("shop.toml", &format!("{HEAD}{RULE}{tail}"))
    }

    #[test]
    fn a_limit_keeps_its_unit_and_its_text() {
        let shop = with("[[limit]]\nid = \"a\"\nfigure = \"drift\"\nvalue = \"20 mm/5min\"\nsource = \"manual\"\n")
            .expect("a shop");
        let limit = &shop.limits[0];
        assert_eq!(
            (limit.number, limit.unit, limit.text.as_str()),
            (20.0, "mm/5min", "20 mm/5min")
        );
        assert!((limit.number * limit.si_per_unit - 0.020 / 300.0).abs() < 1e-15);
    }

    #[track_caller]
    fn refused(tail: &str, line: usize, part: &str) {
        let error = with(tail).expect_err(tail);
        assert_eq!(error.line, line, "{error}");
        assert!(error.to_string().contains(part), "{error}");
    }

    #[test]
    fn wrong_limits_are_refused_with_their_line() {
        refused(
            "[[limit]]\nid = \"a\"\nfigure = \"drift\"\nvalue = \"1 mL/min\"\nsource = \"m\"\n",
            11,
            "mm/min",
        );
        refused(
            "[[limit]]\nid = \"a\"\nfigure = \"seepage\"\nvalue = \"1 mL/min\"\nsource = \"m\"\n",
            8,
            "cap_loss",
        );
        refused(
            "[[limit]]\nid = \"a\"\nfigure = \"drift\"\nvalue = \"1.2,5 mm/min\"\nsource = \"m\"\n",
            11,
            "decimal",
        );
        refused(
            "[[limit]]\nid = \"a\"\nfigure = \"drift\"\nvalue = \"1 mm/min\"\nsource = \" \"\n",
            8,
            "source",
        );
        refused(
            "[[limit]]\nid = \"a\"\nfigure = \"drift\"\nvalue = \"1 mm/min\"\n",
            8,
            "source",
        );
        refused(
            "[[limit]]\nid = \"a\"\nfigure = \"drift\"\nvalue = \"0 mm/min\"\nsource = \"m\"\n",
            11,
            "above zero",
        );
    }

    #[test]
    fn each_rule_has_its_word() {
        let shop = |rule: &str| {
            Shop::parse("shop.toml", &format!("{HEAD}[decision]\n{rule}\n")).map(|s| s.rule)
        };
        for (text, rule) in [
            ("rule = \"simple\"", DecisionRule::Simple),
            (
                "rule = \"guarded\"\nprobability = 0.9",
                DecisionRule::Guarded { probability: 0.9 },
            ),
            ("rule = \"wholly_inside\"", DecisionRule::WhollyInside),
        ] {
            let found = shop(text).expect(text);
            assert_eq!(found, rule);
            assert!(text.contains(found.word()));
        }
        let error = shop("rule = \"wholly_inside\"\nprobability = 0.9").expect_err("no use");
        assert!(error.to_string().contains("takes a probability"), "{error}");
    }

    #[test]
    fn a_guarded_rule_needs_its_probability() {
        let error = Shop::parse(
            "shop.toml",
            &format!("{HEAD}[decision]\nrule = \"guarded\"\n"),
        )
        .expect_err("none given");
        assert!(error.to_string().contains("0.95"), "{error}");
        assert_eq!(error.line, 5);
    }
}
