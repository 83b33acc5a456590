//! How a test ended: what is shown, and the exit status.

use std::path::Path;
use stillrod::daemon::conduct::Conducted;
use stillrod::daemon::inquire::Inquired;

/// Exit status where a start was refused for a hazard.
pub const HAZARD: u8 = 50;

/// Exit status of an operating error.
pub const OPERATING_ERROR: u8 = 1;

/// Shows how a test ended; returns the exit status.
pub fn report(conducted: Conducted, folder: &Path, json: bool) -> u8 {
    match conducted {
        Conducted::Refused(reasons) => refused(&reasons),
        Conducted::Done {
            entered,
            archive,
            sha256,
        } => {
            if json {
                println!("{}", entered.record_json);
            } else {
                println!("{}", entered.found.text());
                println!(
                    "Paper      {}  ({})",
                    entered.pdf_path.display(),
                    entered.number
                );
                println!("Recording  {}", archive.display());
                println!("           sha256 {sha256}");
                println!("Register   {}", folder.join("register.db").display());
            }
            entered.found.outcome().exit_status()
        }
    }
}

/// Shows how an inquiry ended; returns the exit status.
pub fn report_inquiry(inquired: Inquired, json: bool) -> u8 {
    match inquired {
        Inquired::Refused(reasons) => refused(&reasons),
        Inquired::Done {
            found,
            recordings,
            seen,
            sheet,
        } => {
            if json {
                println!("{}", found.record_json());
            } else {
                println!("\n{}\n", found.text());
                println!("Sheet      {}", sheet.display());
                println!("Seen       {}", seen.display());
                for recording in recordings {
                    println!("Recording  {}", recording.display());
                }
            }
            found.outcome.exit_status()
        }
    }
}

fn refused(reasons: &[String]) -> u8 {
    eprintln!("start refused:");
    reasons.iter().for_each(|reason| eprintln!("  {reason}"));
    HAZARD
}
