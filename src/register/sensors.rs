//! Sensors and their calibrations, as the tests saw them.
//!
//! A calibration is kept the first time a test is read with it. Those of the practice bench are kept
//! apart: they are no sensors.

use super::Register;
use super::entry::Bench;
use super::entry::NewTest;
use super::error::RegisterError;
use super::error::sorted;
use sqlx::Row as _;
use sqlx::SqliteConnection;
use sqlx::sqlite::SqliteRow;

/// A sensor with its last calibration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SensorKnown {
    /// Its serial number.
    pub serial: String,
    /// What it is called on the bench.
    pub label: String,
    /// Number of its calibration's paper; may be empty.
    pub certificate: String,
    /// Day the calibration is due, "2027-03-31"; may be empty.
    pub due: String,
    /// Since which test, UTC ms since 1970.
    pub since_utc_ms: i64,
    /// Calibrations it has had.
    pub n_calibrations: i64,
    /// Whether it is one of the practice bench.
    pub practice: bool,
}

impl Register {
    /// All sensors with the calibration they were last used with, the first due first; those without a
    /// day come last.
    pub async fn sensors(&self) -> Result<Vec<SensorKnown>, RegisterError> {
        let failed = |error| sorted(&self.path, "list the sensors", error);
        let rows = sqlx::query(
            "SELECT sensor.serial, last.label, last.certificate, last.due,
                 test.started_utc_ms AS since_utc_ms, last.practice,
                 (SELECT count(*) FROM calibration AS c
                  WHERE c.sensor = sensor.id AND c.practice = last.practice) AS n_calibrations
             FROM sensor JOIN calibration AS last ON last.id IN
                 (SELECT max(c.id) FROM calibration AS c
                  WHERE c.sensor = sensor.id GROUP BY c.practice)
             JOIN test ON test.id = last.first_test
             ORDER BY last.practice, last.due = '', last.due, sensor.serial",
        )
        .fetch_all(&self.readers)
        .await
        .map_err(failed)?;
        let read = rows.iter().map(read).collect::<Result<_, _>>();
        read.map_err(failed)
    }
}

fn read(row: &SqliteRow) -> Result<SensorKnown, sqlx::Error> {
    Ok(SensorKnown {
        serial: row.try_get("serial")?,
        label: row.try_get("label")?,
        certificate: row.try_get("certificate")?,
        due: row.try_get("due")?,
        since_utc_ms: row.try_get("since_utc_ms")?,
        n_calibrations: row.try_get("n_calibrations")?,
        practice: row.try_get::<i64, _>("practice")? == 1,
    })
}

/// Keeps the sensors of a test that was written.
pub(super) async fn remember(
    all: &mut SqliteConnection,
    test: &NewTest,
    test_id: i64,
) -> Result<(), sqlx::Error> {
    for sensor in test
        .sensors
        .iter()
        .filter(|sensor| !sensor.serial.is_empty())
    {
        sqlx::query("INSERT INTO sensor (serial) VALUES ($1) ON CONFLICT (serial) DO NOTHING")
            .bind(&sensor.serial)
            .execute(&mut *all)
            .await?;
        sqlx::query(
            "INSERT INTO calibration (sensor, label, certificate, due, first_test, practice)
             SELECT id, $2, $3, $4, $5, $6 FROM sensor WHERE serial = $1
             ON CONFLICT (sensor, certificate, due, practice) DO NOTHING",
        )
        .bind(&sensor.serial)
        .bind(&sensor.label)
        .bind(&sensor.certificate)
        .bind(&sensor.due)
        .bind(test_id)
        .bind(i64::from(test.bench == Bench::Practice))
        .execute(&mut *all)
        .await?;
    }
    Ok(())
}
