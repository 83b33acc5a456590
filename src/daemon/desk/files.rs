//! Photos and papers of units: taken in by what they are, handed out by what the register says.

use super::ShopDesk;
use super::broken;
use crate::daemon::attach::Of;
use crate::daemon::attach::keep;
use crate::daemon::label::label_bytes;
use crate::daemon::label::plain_name;
use crate::page::Content;
use crate::page::Download;
use crate::page::Trouble;
use crate::page::view;
use crate::register::RegisterError;
use crate::register::UnitsOf;
use std::path::Path;

/// What a file is by its first bytes: how its name ends. Nothing else is kept.
fn kind_of(bytes: &[u8]) -> Option<&'static str> {
    let kinds: [(&[u8], &str); 3] = [
        (b"\xff\xd8\xff", "jpg"),
        (b"\x89PNG\r\n\x1a\n", "png"),
        (b"%PDF-", "pdf"),
    ];
    let found = kinds.iter().find(|(start, _)| bytes.starts_with(start));
    found.map(|(_, ending)| *ending)
}

/// Keeps a file with a unit.
pub(super) async fn keep_file(desk: &ShopDesk, file: view::NewFile) -> Result<(), Trouble> {
    let ending = kind_of(&file.bytes).ok_or_else(Trouble::no_picture)?;
    let of = Of {
        tag: &file.tag,
        job: file.job,
        about: &file.about,
        role: &file.by,
    };
    let content = (file.name.as_str(), ending, file.bytes.as_slice());
    let kept = keep(&desk.folder, &desk.register, content, of).await;
    kept.map(|_| ())
        .map_err(|error| match error.downcast_ref() {
            Some(RegisterError::Unfit { .. }) => Trouble::not_taken(&error.to_string()),
            _ => broken(error),
        })
}

/// A file of a unit by its hash.
pub(super) async fn file(desk: &ShopDesk, tag: &str, sha256: &str) -> Result<Download, Trouble> {
    let files = desk.register.attachments_of_unit(tag).await;
    let files = files.map_err(|error| broken(error.into()))?;
    let found = files.iter().find(|file| file.sha256 == sha256);
    let found = found.ok_or_else(Trouble::not_there)?;
    let (media_type, is_shown) = match found.ending.as_str() {
        "jpg" | "jpeg" => ("image/jpeg", true),
        "png" => ("image/png", true),
        "pdf" => ("application/pdf", false),
        _ => ("application/octet-stream", false),
    };
    let stem: String = Path::new(&found.name)
        .file_stem()
        .map(|stem| plain_name(&stem.to_string_lossy()))
        .unwrap_or_default();
    let name = format!("{stem}.{}", found.ending);
    open(
        &desk.folder.files(),
        &found.file_name(),
        (name, media_type, is_shown),
    )
}

/// The label of a unit.
pub(super) async fn label(desk: &ShopDesk, tag: &str) -> Result<Download, Trouble> {
    let known = desk.register.units(UnitsOf::Tag(tag), "").await;
    if known.map_err(|error| broken(error.into()))?.is_empty() {
        return Err(Trouble::no_unit(tag));
    }
    let shop = desk.shop.as_ref().map_or("", |shop| shop.name.as_str());
    let bytes = label_bytes(&desk.register, tag, shop)
        .await
        .map_err(broken)?;
    Ok(Download {
        name: format!("label-{}.pdf", plain_name(tag)),
        media_type: "application/pdf",
        is_shown: false,
        content: Content::Bytes(bytes),
    })
}

/// Opens a file that the register names.
pub(super) fn open(
    folder: &Path,
    known_name: &str,
    (name, media_type, is_shown): (String, &'static str, bool),
) -> Result<Download, Trouble> {
    // A register from elsewhere could name anything.
    if Path::new(known_name).file_name() != Some(known_name.as_ref()) {
        return Err(Trouble::file_gone(known_name));
    }
    let opened = std::fs::File::open(folder.join(known_name))
        .and_then(|file| file.metadata().map(|found| (file, found)));
    match opened {
        Ok((file, found)) if found.is_file() => Ok(Download {
            name,
            media_type,
            is_shown,
            content: Content::File(file, found.len()),
        }),
        _ => Err(Trouble::file_gone(known_name)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_what_its_first_bytes_say() {
        assert_eq!(kind_of(b"\xff\xd8\xff\xe0JFIF"), Some("jpg"));
        assert_eq!(kind_of(b"\x89PNG\r\n\x1a\n...."), Some("png"));
        assert_eq!(kind_of(b"%PDF-1.7"), Some("pdf"));
        for wrong in [
            &b"<svg"[..],
            b"GIF89a",
            b"<html>\xff\xd8\xff",
            b"",
            b"\x89PNG",
            b"MZ",
        ] {
            assert_eq!(kind_of(wrong), None);
        }
    }

    #[test]
    fn only_plain_names_are_opened() {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::create_dir(folder.path().join("in")).expect("made");
        std::fs::write(folder.path().join("a"), "x").expect("written");
        let opened = |name: &str| {
            let about = ("a".to_owned(), "text/plain", false);
            open(&folder.path().join("in"), name, about).is_ok()
        };
        std::fs::write(folder.path().join("in/b"), "x").expect("written");
        assert!(opened("b"));
        for wrong in ["../a", "/etc/passwd", "", ".", "..", "c", "./b", "b/"] {
            assert!(!opened(wrong), "{wrong}");
        }
    }
}
