//! Units, tests and their figures as tables that other programs read: CSV and JSON lines.
//!
//! Pure: rows in, text out, and back. A number ends in its unit of measure or has it in a column
//! beside it; instants are UTC as RFC 3339; texts are UTF-8 and may be in any language. What is
//! read back are units (any table with a column `tag`) and tests (JSON lines as written here).

mod read;
mod rows;

pub use read::ExchangeError;
pub use read::TestFile;
pub use read::test_files;
pub use read::units_of_csv;
pub use read::units_of_json_lines;
pub use rows::FigureRow;
pub use rows::JobRow;
pub use rows::TableText;
pub use rows::TestRow;
pub use rows::UnitRow;
pub use rows::table_text;
