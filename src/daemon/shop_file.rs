//! A shop file from the disk, with the limits files and the logo that it names.

use super::conduct::NamedText;
use super::letterhead::drawn;
use super::paper::chain;
use crate::certificate::check_logo;
use crate::settings::LOGO_MOST_BYTES;
use crate::settings::Logo;
use crate::settings::with_files;
use anyhow::Context;
use std::io::Read;
use std::path::Path;

/// Reads a shop file and the files it names, which stand beside it.
///
/// # Errors
/// If a file cannot be read, with the line that names it.
pub fn shop_text(path: &Path) -> anyhow::Result<NamedText> {
    let file = path.display().to_string();
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("{file} cannot be read; check the path"))?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let read =
        |name: &str| std::fs::read_to_string(folder.join(name)).map_err(|error| error.to_string());
    let all = with_files(&file, &text, read, |name| logo(&folder.join(name)))?;
    Ok((file, all))
}

/// The bytes of a logo that papers can carry.
fn logo(path: &Path) -> Result<Vec<u8>, String> {
    let cannot = |error: std::io::Error| format!("cannot be read: {error}");
    let mut bytes = Vec::new();
    // One byte more tells that it is too large.
    std::fs::File::open(path)
        .and_then(|file| {
            file.take(LOGO_MOST_BYTES as u64 + 1)
                .read_to_end(&mut bytes)
        })
        .map_err(cannot)?;
    if bytes.len() > LOGO_MOST_BYTES {
        return Ok(bytes);
    }
    // What is no picture at all is refused with the settings.
    let Ok(logo) = Logo::from_file(bytes.clone()) else {
        return Ok(bytes);
    };
    match check_logo(&drawn(&logo)) {
        Ok(()) => Ok(bytes),
        Err(error) => Err(format!("cannot be drawn: {}", chain(&error.into()))),
    }
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

    const LOGO: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"4\" height=\"2\"><rect width=\"4\" height=\"2\"/></svg>\n";

    #[test]
    fn a_logo_is_read_from_beside_the_shop_file_and_kept_with_it() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("shop.toml");
        let shop = SHOP.replace(
            "limits = [\n  \"limits/cylinders.toml\",\n]",
            "logo = \"logo.svg\"",
        );
        std::fs::write(&path, &shop).expect("written");
        let there = folder.path().join("logo.svg");
        let refused = |part: &str| {
            let error = shop_text(&path).expect_err(part).to_string();
            assert!(
                error.contains("shop.toml, line 5: logo `logo.svg` "),
                "{error}"
            );
            assert!(error.contains(part), "{error}");
        };
        refused("cannot be read");
        for (wrong, part) in [
            ("GIF89a".to_owned(), "neither an SVG nor a PNG"),
            (
                format!("<svg>{}</svg>", "x".repeat(LOGO_MOST_BYTES)),
                "256 KiB",
            ),
            ("<svg".to_owned(), "cannot be drawn"),
            ("\u{89}PNG".to_owned(), "neither an SVG nor a PNG"),
        ] {
            std::fs::write(&there, wrong).expect("written");
            refused(part);
        }
        std::fs::write(&there, b"\x89PNG\r\n\x1a\nand no more").expect("written");
        refused("cannot be drawn");
        std::fs::write(&there, LOGO).expect("written");
        let (file, text) = shop_text(&path).expect("a shop");
        std::fs::remove_file(&there).expect("removed");
        std::fs::write(&path, &text).expect("written");
        assert_eq!(shop_text(&path).expect("whole").1, text);
        let shop = Shop::parse(&file, &text).expect("a shop");
        assert_eq!(shop.letterhead.logo, Some(Logo::Svg(LOGO.into())));
    }

    #[test]
    fn an_id_is_used_once_over_all_files() {
        let text = format!("{SHOP}\n{LIMITS}");
        let all = with_files(
            "shop.toml",
            &text,
            |_| Ok(LIMITS.into()),
            |_| Err("no logo".into()),
        )
        .expect("read");
        let error = Shop::parse("shop.toml", &all)
            .expect_err("twice")
            .to_string();
        assert!(
            error.starts_with("limits/cylinders.toml, line 2: limit `a` stands twice"),
            "{error}"
        );
    }
}
