//! A shop file from the disk, with the limits files that it names.

use super::conduct::NamedText;
use crate::settings::with_files;
use anyhow::Context;
use std::path::Path;

/// Reads a shop file and the limits files it names, which stand beside it.
///
/// # Errors
/// If a file cannot be read, with the line that names it.
pub fn shop_text(path: &Path) -> anyhow::Result<NamedText> {
    let file = path.display().to_string();
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("{file} cannot be read; check the path"))?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let all = with_files(&file, &text, |name| {
        std::fs::read_to_string(folder.join(name)).map_err(|error| error.to_string())
    })?;
    Ok((file, all))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Shop;

    const SHOP: &str = "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
                        limits = [\n  \"limits/cylinders.toml\",\n]\n[decision]\nrule = \"simple\"";
    const LIMITS: &str = "# invented\n[[limit]]\nid = \"a\"\nfigure = \"drift\"\nvalue = \"1 mm/min\"\nsource = \"m\"\n";

    #[test]
    fn limits_files_are_read_from_beside_the_shop_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("shop.toml");
        std::fs::write(&path, SHOP).expect("written");
        let error = shop_text(&path).expect_err("not there yet").to_string();
        assert!(
            error.contains("shop.toml, line 6: limits file `limits/cylinders.toml` cannot be read"),
            "{error}"
        );
        std::fs::create_dir(folder.path().join("limits")).expect("made");
        let there = folder.path().join("limits/cylinders.toml");
        std::fs::write(&there, LIMITS).expect("written");
        let (file, text) = shop_text(&path).expect("a shop");
        let shop = Shop::parse(&file, &text).expect("a shop");
        assert_eq!(shop.limits[0].id, "a");
        // What a recording keeps is judged again without the files.
        std::fs::write(&path, &text).expect("written");
        std::fs::remove_file(&there).expect("removed");
        assert_eq!(shop_text(&path).expect("whole").1, text);
        // Errors name the file and its own line.
        let wrong = text.replace("1 mm/min", "1 mL/min");
        let error = Shop::parse(&file, &wrong)
            .expect_err("no speed")
            .to_string();
        assert!(
            error.starts_with("limits/cylinders.toml, line 5: limit `a`"),
            "{error}"
        );
        let error = Shop::parse(&file, SHOP)
            .expect_err("without its file")
            .to_string();
        assert!(
            error.contains("line 6: limits file") && error.contains("not there"),
            "{error}"
        );
    }

    #[test]
    fn an_id_is_used_once_over_all_files() {
        let text = format!("{SHOP}\n{LIMITS}");
        let all = with_files("shop.toml", &text, |_| Ok(LIMITS.into())).expect("read");
        let error = Shop::parse("shop.toml", &all)
            .expect_err("twice")
            .to_string();
        assert!(
            error.starts_with("limits/cylinders.toml, line 2: limit `a` stands twice"),
            "{error}"
        );
    }
}
