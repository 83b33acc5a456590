//! Sensors and the shop file for the page.

use super::ShopDesk;
use crate::daemon::clock;
use crate::page::view;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::settings::LimitSet;
use crate::settings::PaperSize;
use crate::settings::Shop;

pub(super) async fn sensors(desk: &ShopDesk) -> anyhow::Result<Vec<view::SensorLine>> {
    let today = clock::utc_date(clock::now_utc_ms());
    let sensors = desk.register.sensors().await?;
    let line = |sensor: &crate::register::SensorKnown| view::SensorLine {
        serial: sensor.serial.clone(),
        label: sensor.label.clone(),
        certificate: sensor.certificate.clone(),
        due: sensor.due.clone(),
        is_overdue: !sensor.due.is_empty() && sensor.due < today,
        since: clock::utc_date(sensor.since_utc_ms),
        n_calibrations: sensor.n_calibrations,
        is_practice: sensor.practice,
    };
    Ok(sensors.iter().map(line).collect())
}

pub(super) fn shop(shop: Option<&Shop>) -> view::ShopSheet {
    let Some(shop) = shop else {
        return view::ShopSheet {
            time_zone: clock::own_zone(),
            ..view::ShopSheet::default()
        };
    };
    let mut limited: Vec<_> = shop.limits.iter().map(|limit| limit.figure).collect();
    limited.dedup();
    view::ShopSheet {
        has_file: true,
        name: shop.name.clone(),
        address: shop.letterhead.address.clone(),
        is_inch: shop.units == UnitSystem::Inch,
        paper: match shop.letterhead.paper {
            Some(PaperSize::A4) => "A4".into(),
            Some(PaperSize::Letter) => "Letter".into(),
            None => String::new(),
        },
        time_zone: shop.time_zone.clone(),
        prefix: shop.number_prefix.clone(),
        rule: shop.rule.sentence(&limited),
        limits: shop.limits.iter().map(limit).collect(),
        outside: shop
            .outside
            .as_ref()
            .map(|outside| (outside.class_most, outside.source.clone())),
    }
}

fn limit(limit: &LimitSet) -> view::LimitLine {
    let (pressure, temperature) = limit.stated_at();
    let pressure = pressure.map(|p| format!("{} bar", number(p.bar(), 1.0)));
    let temperature = temperature.map(|t| format!("{} °C", number(t.value - 273.15, 1.0)));
    let stated: Vec<String> = pressure.into_iter().chain(temperature).collect();
    let row = |row: crate::settings::ToldLimit| (row.holds_for, row.text, row.source);
    view::LimitLine {
        id: limit.id.clone(),
        figure: limit.figure.plain().into(),
        stated_for: stated.join(", "),
        rows: limit.told().into_iter().map(row).collect(),
    }
}
