//! `shop.toml`: the shop, its decision rule, its limits.

use super::SettingsError;
use super::Source;
use super::letterhead::Letterhead;
use super::letterhead::PaperSize;
use super::letterhead::letterhead;
use super::limits::LimitFile;
use super::limits::LimitSet;
use super::limits::LimitTable;
use super::limits::Parts;
use super::limits::TableTable;
use super::limits::parts;
use super::limits::single;
use super::limits::table;
use super::read;
use crate::procedure::CLASSES;
use crate::quantity::UnitSystem;
use crate::verdict::DecisionRule;
use crate::verdict::OutsideLimit;
use serde::Deserialize;
use toml::Spanned;

/// A shop as its file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shop {
    /// Its name, as on the certificate.
    pub name: String,
    /// What stands beside the name at the head of its papers.
    pub letterhead: Letterhead,
    /// Units it reads.
    pub units: UnitSystem,
    /// Name of its time zone.
    pub time_zone: String,
    /// Letters that its certificate numbers begin with.
    pub number_prefix: String,
    /// How uncertainty counts at a limit.
    pub rule: DecisionRule,
    /// Its limits.
    pub limits: Vec<LimitSet>,
    /// How wet the outside may be, if it says so.
    pub outside: Option<OutsideLimit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ShopFile {
    shop: ShopTable,
    decision: Spanned<DecisionTable>,
    outside: Option<Spanned<OutsideTable>>,
    #[serde(default)]
    limit: Vec<Spanned<LimitTable>>,
    #[serde(default)]
    limit_table: Vec<Spanned<TableTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ShopTable {
    name: String,
    #[serde(default)]
    units: Units,
    time_zone: String,
    number_prefix: String,
    #[serde(default)]
    address: Vec<Spanned<String>>,
    logo: Option<Spanned<String>>,
    paper: Option<PaperSize>,
    #[serde(default)]
    limits: Vec<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OutsideTable {
    class_most: u8,
    source: String,
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

impl Shop {
    /// Reads a shop file, with the limits files and the logo it names behind it ([`super::with_files`]);
    /// `file` is its name in errors.
    ///
    /// # Errors
    /// With file, line, what is wrong and what would be right.
    pub fn parse(file: &str, text: &str) -> Result<Self, SettingsError> {
        let Parts {
            own,
            limits: files,
            logo,
        } = parts(text);
        let found: ShopFile = read(file, own)?;
        let rule = rule(file, own, &found.decision)?;
        let mut limits: Vec<LimitSet> = Vec::new();
        let here = Source { file, text: own };
        add(&mut limits, &here, &found.limit, &found.limit_table)?;
        for named in &found.shop.limits {
            let name = named.get_ref();
            let Some((_, text)) = files.iter().find(|(known, _)| known == name) else {
                let message = format!("limits file `{name}` is named, and its text is not there");
                return Err(here.error(named, message));
            };
            let of_file: LimitFile = read(name, text)?;
            let there = Source { file: name, text };
            add(&mut limits, &there, &of_file.limit, &of_file.limit_table)?;
        }
        let about = &found.shop;
        Ok(Self {
            letterhead: letterhead(
                &here,
                &about.address,
                about.logo.as_ref(),
                logo,
                about.paper,
            )?,
            name: found.shop.name,
            units: match found.shop.units {
                Units::Metric => UnitSystem::Metric,
                Units::Inch => UnitSystem::Inch,
            },
            time_zone: found.shop.time_zone,
            number_prefix: found.shop.number_prefix,
            rule,
            limits,
            outside: found
                .outside
                .map(|table| outside(&here, &table))
                .transpose()?,
        })
    }
}

fn outside(
    source: &Source<'_>,
    table: &Spanned<OutsideTable>,
) -> Result<OutsideLimit, SettingsError> {
    let OutsideTable {
        class_most,
        source: from,
    } = table.get_ref();
    if usize::from(*class_most) >= CLASSES.len() {
        let message = "`class_most` is a class of external leakage, 0 to 5";
        return Err(source.error(table, message));
    }
    if from.trim().is_empty() {
        return Err(source.error(
            table,
            "[outside] needs a source: who set it, where it is written",
        ));
    }
    Ok(OutsideLimit {
        class_most: *class_most,
        source: from.clone(),
    })
}

/// Adds what a file has, each under an id of its own.
fn add(
    limits: &mut Vec<LimitSet>,
    source: &Source<'_>,
    singles: &[Spanned<LimitTable>],
    tables: &[Spanned<TableTable>],
) -> Result<(), SettingsError> {
    let singles = singles.iter().map(|t| (t.span().start, single(source, t)));
    let tables = tables.iter().map(|t| (t.span().start, table(source, t)));
    for (start, found) in singles.chain(tables) {
        let found = found?;
        if limits.iter().any(|known| known.id == found.id) {
            let message = format!("limit `{}` stands twice; give each its own id", found.id);
            return Err(SettingsError::at(source.file, source.text, start, message));
        }
        limits.push(found);
    }
    Ok(())
}

/// The files that a shop file names.
pub(super) struct NamedFiles {
    /// Limits files.
    pub limits: Vec<Spanned<String>>,
    /// The logo.
    pub logo: Option<Spanned<String>>,
}

/// The files that a shop file names.
pub(super) fn named_files(file: &str, text: &str) -> Result<NamedFiles, SettingsError> {
    let found: ShopFile = read(file, text)?;
    for named in found.shop.limits.iter().chain(&found.shop.logo) {
        let name = named.get_ref();
        if name.trim() != name || name.is_empty() || name.contains(char::is_control) {
            let message = format!("`{name}` is no name of a file");
            return Err(SettingsError::at(file, text, named.span().start, message));
        }
    }
    Ok(NamedFiles {
        limits: found.shop.limits,
        logo: found.shop.logo,
    })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::limits::Asking;

    const NOTHING: Asking<'_> = Asking {
        cylinder: None,
        seal: "",
        level: None,
        load_ratio: None,
    };

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
        let limits = shop.limits[0].limits_for(&NOTHING).expect("a limit");
        let limit = &limits[0];
        assert_eq!(
            (limit.number, limit.unit.as_str(), limit.text.as_str()),
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
    fn a_letterhead_has_four_lines_a_size_of_paper_and_a_logo_that_is_there() {
        let with = |lines: &str| {
            let text = format!("{HEAD}{lines}\n{RULE}#: logo file l.svg\n<svg/>\n");
            Shop::parse("shop.toml", &text)
        };
        let shop = with(
            "address = [\"Depot yard\", \"Tarn Valley\"]\npaper = \"letter\"\nlogo = \"l.svg\"",
        )
        .expect("a shop");
        let head = shop.letterhead;
        assert_eq!(head.address, ["Depot yard", "Tarn Valley"]);
        assert_eq!(head.paper, Some(PaperSize::Letter));
        assert!(head.logo.is_some());
        for (lines, part) in [
            (
                "address = [\"a\", \"b\", \"c\", \"d\", \"e\"]",
                "line 5: an address has at most 4",
            ),
            ("address = [\" \"]", "line 5: a line of the address"),
            ("paper = \"a5\"", "line 5: unknown variant `a5`"),
            (
                "logo = \"other.svg\"",
                "line 5: logo `other.svg` is named, and it is not there",
            ),
        ] {
            let error = with(lines).expect_err(lines).to_string();
            assert!(error.contains(part), "{error}");
        }
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
