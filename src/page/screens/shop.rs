//! Sensors, the shop file, and where everything lies.

use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::AdapterLine;
use crate::page::view::CopyState;
use crate::page::view::MayOpen;
use crate::page::view::Moving;
use crate::page::view::SensorLine;
use crate::page::view::ShopSheet;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::response::Response;

#[derive(Template)]
#[template(path = "sensors.html", config = "src/page/askama.toml")]
struct Sensors {
    f: Frame,
    v: Vec<SensorLine>,
    adapters: Vec<AdapterLine>,
}

impl Sensors {
    /// Adapters that are plugged in, or that cannot be told apart.
    fn plugged_in(&self) -> Vec<&AdapterLine> {
        self.adapters.iter().filter(|one| one.is_usb).collect()
    }

    fn built_in(&self) -> Vec<&AdapterLine> {
        self.adapters.iter().filter(|one| !one.is_usb).collect()
    }

    fn n_built_in(&self) -> String {
        let n = self.built_in().len() as i64;
        self.f.counted(&n, &self.f.w.adapters_built_in)
    }
}

#[derive(Template)]
#[template(path = "shop.html", config = "src/page/askama.toml")]
struct Shop {
    f: Frame,
    v: ShopSheet,
}

#[derive(Template)]
#[template(path = "moving.html", config = "src/page/askama.toml")]
struct Copying {
    f: Frame,
    v: Moving,
}

/// Shows the sensors.
pub async fn sensors<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Result<Response, Trouble> {
    Ok(shown(&Sensors {
        v: page.desk.sensors().await?,
        adapters: page.desk.adapters().await?,
        f: Frame::new(&page, &visit, Here::Sensors),
    }))
}

/// Shows what the shop file says.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Result<Response, Trouble> {
    Ok(shown(&Shop {
        v: page.desk.shop().await?,
        f: Frame::new(&page, &visit, Here::Shop),
    }))
}

/// Shows where everything lies.
pub async fn moving<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Result<Response, Trouble> {
    Ok(shown(&Copying {
        v: page.desk.moving().await?,
        f: Frame::new(&page, &visit, Here::Moving),
    }))
}

/// Begins a copy.
pub async fn begin_copy<D: Desk>(
    State(page): State<Shared<D>>,
    _sent: Sent,
) -> Result<Response, Trouble> {
    page.desk.begin_copy().await?;
    Ok(back_to("/moving", &[]))
}
