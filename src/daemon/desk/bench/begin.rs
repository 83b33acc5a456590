//! From what was chosen to a test that runs.

use super::pieces;
use super::pieces::Piece;
use super::plan::plan;
use super::units;
use crate::daemon::conduct::NamedText;
use crate::daemon::desk::ShopDesk;
use crate::daemon::desk::bench_ports::may_be_opened;
use crate::daemon::desk::bench_ports::there;
use crate::daemon::paper::chain;
use crate::daemon::session::Source;
use crate::daemon::session::Wanted;
use crate::link::AdapterThere;
use crate::page::Trouble;
use crate::page::view;
use crate::page::view::BenchChoice;
use crate::page::view::Fault;
use crate::settings::about_procedure;
use crate::settings::built_ins;
use crate::settings::with_other_procedure;
use anyhow::Context;
use std::path::Path;
use std::sync::Arc;

/// What can be chosen; the setup of a tag is, if there is one.
pub(super) async fn free(desk: &ShopDesk, tag: &str) -> Result<view::Bench, Trouble> {
    let (folder, shop) = (desk.folder.clone(), desk.shop.clone());
    let adapters = there(desk).await?.into_iter().filter(may_be_opened);
    let adapters = adapters.map(in_words).collect();
    let tag = tag.to_owned();
    let free = tokio::task::spawn_blocking(move || {
        let procedures = built_ins().iter().filter_map(|known| {
            let about = about_procedure(known).ok()?;
            Some((known.name.to_owned(), about))
        });
        let setups = pieces::listed(&folder, shop.as_ref());
        let of_tag = setups.iter().find(|piece| piece.name == tag);
        view::BenchFree {
            chosen: of_tag.map(|piece| piece.key.clone()).unwrap_or_default(),
            tag,
            setups,
            folder: folder.setups().display().to_string(),
            practice: pieces::practice(),
            procedures: procedures.collect(),
            adapters,
        }
    });
    let free = free.await.map_err(|error| broken(error.into()))?;
    Ok(view::Bench::Free(Box::new(free)))
}

/// What a test would do.
pub(in crate::daemon::desk) async fn plan_of(
    desk: &ShopDesk,
    chosen: BenchChoice,
) -> Result<view::BenchPlan, Trouble> {
    let found = found(desk, &chosen).await?;
    let (units, last) = (units(desk), Arc::clone(&desk.bench.foreseen));
    let planned = tokio::task::spawn_blocking(move || {
        let planned = plan(&found, chosen, units)?;
        Ok(view::BenchPlan {
            foreseen: last.of(&found),
            ..planned
        })
    });
    let planned = planned.await.map_err(|error| broken(error.into()))?;
    planned.map_err(|error: anyhow::Error| Trouble::no_setup(&chain(&error)))
}

/// Begins a test.
pub(in crate::daemon::desk) async fn begin(
    desk: &ShopDesk,
    chosen: BenchChoice,
    who: &str,
    is_read: bool,
) -> Result<view::BenchBegun, Trouble> {
    let found = found(desk, &chosen).await?;
    let quick = plan(&found, chosen.clone(), units(desk));
    let quick = quick.map_err(|error| Trouble::no_setup(&chain(&error)))?;
    let source = source(desk, &found, &chosen).await?;
    let fault = match (is_read, &source) {
        (false, _) => Some(Fault::cautions_unread()),
        (true, None) => Some(Fault::no_adapter()),
        (true, Some(_)) => None,
    };
    let (Some(source), None, true) = (source, &fault, quick.refused.is_empty()) else {
        let planned = view::BenchPlan {
            faults: fault.into_iter().collect(),
            ..plan_of(desk, chosen).await?
        };
        return Ok(view::BenchBegun::NotYet(Box::new(planned)));
    };
    let wanted = Wanted {
        setup: found.setup,
        shop: found.shop,
        source,
        folder: desk.folder.root().to_owned(),
        who: who.into(),
    };
    match desk.bench.place.begin(wanted) {
        Ok(true) => Ok(view::BenchBegun::Begun),
        Ok(false) => Err(Trouble::bench_taken()),
        Err(error) => Err(Trouble::no_setup(&chain(&error))),
    }
}

/// A piece with everything a test of it needs.
pub(super) struct Found {
    pub setup: NamedText,
    pub shop: Option<NamedText>,
    pub practice: Option<String>,
}

async fn found(desk: &ShopDesk, chosen: &BenchChoice) -> Result<Found, Trouble> {
    let (folder, key) = (desk.folder.clone(), chosen.piece.clone());
    let piece = tokio::task::spawn_blocking(move || pieces::piece(&folder, &key));
    let piece = piece.await.map_err(|error| broken(error.into()))?;
    let piece = piece.map_err(|error| Trouble::no_setup(&chain(&error)))?;
    let Some(Piece { setup, practice }) = piece else {
        return Err(Trouble::nothing_chosen());
    };
    let setup = match chosen.procedure.as_str() {
        "" => setup,
        name => {
            let text = with_other_procedure(&setup.0, &setup.1, name);
            let text = text.map_err(|error| Trouble::no_setup(&error.to_string()))?;
            (setup.0, text)
        }
    };
    let own = desk.shop_text.clone();
    Ok(Found {
        shop: match practice {
            // The practice bench has limits of its own, which its setups name.
            Some(_) => Some(pieces::practice_shop()),
            None => own,
        },
        setup,
        practice,
    })
}

/// Where the readings come from; None if nobody chose an adapter that is there.
async fn source(
    desk: &ShopDesk,
    found: &Found,
    chosen: &BenchChoice,
) -> Result<Option<Source>, Trouble> {
    if let Some(name) = &found.practice {
        let speed = chosen.pace.parse::<f64>().ok();
        let speed = speed.filter(|s| s.is_finite() && (0.1..=1000.0).contains(s));
        return Ok(Some(Source::Practice(name.clone(), speed)));
    }
    let mut usable = there(desk).await?.into_iter().filter(may_be_opened);
    let known = usable.find(|one| one.path == Path::new(&chosen.adapter));
    Ok(known.map(|one| Source::Adapter(one.path)))
}

/// An adapter as a choice: its path, and what it says of itself.
fn in_words(found: AdapterThere) -> (String, String) {
    let path = found.path.display().to_string();
    match found.says.is_empty() {
        true => (path.clone(), path),
        false => (path.clone(), format!("{} ({path})", found.says)),
    }
}

fn broken(error: anyhow::Error) -> Trouble {
    Trouble::broken(&chain(&error))
}

/// Everything that was made of a setup.
pub(super) fn parsed(
    found: &Found,
) -> anyhow::Result<(Option<crate::settings::Shop>, crate::settings::Test)> {
    let shop = found.shop.as_ref();
    let shop = shop.map(|(file, text)| crate::settings::Shop::parse(file, text));
    let shop = shop.transpose().context("the shop file")?;
    let test = crate::settings::Test::parse(&found.setup.0, &found.setup.1, shop.as_ref())?;
    Ok((shop, test))
}
