//! The statement of a certificate, made in the transaction that gives it its number.
//!
//! Speaks SQL and the database crate's errors; whoever calls holds the write lock, so
//! that nothing comes between a statement and the one it names as the one before.

use sqlx::SqliteConnection;

use crate::register::entry::NewTest;
use crate::register::fields::Fields;
use crate::signature::CertificateStatement;
use crate::signature::Digest;
use crate::signature::SignedStatement;
use crate::signature::SigningKey;
use crate::signature::issued_utc;
use crate::signature::sections;

/// Why a certificate has no statement.
#[derive(Debug, thiserror::Error)]
pub(super) enum SigningError {
    /// The database refuses.
    #[error(transparent)]
    Database(#[from] sqlx::Error),
    /// What is to be stated cannot be.
    #[error("{0}")]
    Unfit(String),
}

/// Signs the certificate of a number, and stores the statement.
pub(super) async fn sign(
    all: &mut SqliteConnection,
    test: &NewTest,
    (number, record): (&str, &str),
    key: &SigningKey,
) -> Result<(), SigningError> {
    let unfit = |error: &dyn std::error::Error| SigningError::Unfit(error.to_string());
    let sql = format!(
        "SELECT {}, certificate.id AS id FROM certificate
         JOIN test ON test.id = certificate.test JOIN unit ON unit.id = test.unit
         WHERE certificate.number = $1",
        Fields::selected(true)
    );
    let row = sqlx::query(sqlx::AssertSqlSafe(sql))
        .bind(number)
        .fetch_one(&mut *all)
        .await?;
    let certificate: i64 = sqlx::Row::try_get(&row, "id")?;
    let missing = || SigningError::Unfit("a row of the test is missing".into());
    let fields = Fields::of_row(&row)?.text().ok_or_else(missing)?;
    let archive = Digest::from_hex(&test.archive_sha256);
    let stated = CertificateStatement {
        number: number.into(),
        kind: test.kind.word().into(),
        run_id: test.run_id.clone(),
        archive_sha256: archive.ok_or_else(missing)?,
        row_sha256: Digest::of(fields.as_bytes()),
        sections: sections(record).map_err(|error| unfit(&error))?,
        record_sha256: Digest::of(record.as_bytes()),
        issued_utc: issued_utc(test.issued_utc_ms),
        previous: previous(all).await?,
    };
    let signed = stated.sign(key).map_err(|error| unfit(&error))?;
    sqlx::query(
        "INSERT INTO statement (certificate, row_fields, text, signature) VALUES ($1, $2, $3, $4)",
    )
    .bind(certificate)
    .bind(fields)
    .bind(signed.statement().text())
    .bind(signed.signature_hex())
    .execute(all)
    .await?;
    Ok(())
}

/// Hash of the last statement there is; zeros before the first.
async fn previous(all: &mut SqliteConnection) -> Result<Digest, sqlx::Error> {
    let last: Option<(String, String)> =
        sqlx::query_as("SELECT text, signature FROM statement ORDER BY certificate DESC LIMIT 1")
            .fetch_optional(all)
            .await?;
    Ok(last.map_or(Digest::ZERO, |(text, signature)| link(&text, &signature)))
}

/// Hash by which the next statement names one, as it is stored; also of one that was spoilt.
pub(super) fn link(text: &str, signature: &str) -> Digest {
    Digest::of(format!("{text}signature: {signature}\n").as_bytes())
}

/// The statement of a certificate, if it has one.
pub(super) async fn statement_of(
    all: &sqlx::SqlitePool,
    number: &str,
) -> Result<Option<Result<SignedStatement, String>>, sqlx::Error> {
    let found: Option<(String, String)> = sqlx::query_as(
        "SELECT statement.text, statement.signature FROM statement
         JOIN certificate ON certificate.id = statement.certificate WHERE number = $1",
    )
    .bind(number)
    .fetch_optional(all)
    .await?;
    Ok(found.map(|(text, signature)| {
        SignedStatement::from_parts(&text, &signature).map_err(|error| error.to_string())
    }))
}
