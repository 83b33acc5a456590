//! Units: a search and a list.

use super::shared::asked;
use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::link;
use crate::page::routes::Shared;
use crate::page::view::FoundIn;
use crate::page::view::Units;
use crate::page::view::UnitsAsked;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;

#[derive(Template)]
#[template(path = "units.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    a: UnitsAsked,
    v: Units,
}

impl Screen {
    fn is_search(&self) -> bool {
        !(self.a.words.is_empty() && self.a.from.is_empty() && self.a.until.is_empty())
    }
}

/// Shows what was searched for.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let fields = asked(&uri)?;
    let a = UnitsAsked {
        words: fields.get("words").trim().into(),
        from: fields.get("from").trim().into(),
        until: fields.get("until").trim().into(),
        after: fields.get("after").into(),
    };
    Ok(shown(&Screen {
        v: page.desk.units(a.clone()).await?,
        f: Frame::new(&page, &visit, Here::Units),
        a,
    }))
}
