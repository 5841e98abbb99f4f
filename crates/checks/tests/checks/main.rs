//! Checks with large tools, which a plain `cargo test` leaves out: the pages in a browser, and JSON Schema by a validator.
//! Run `cargo test --no-run` first, which builds the program, then `cargo test -p halfturn-checks`.

#[allow(dead_code, reason = "shared; the other tests use the rest")]
#[path = "../../../../tests/integration/binary.rs"]
mod binary;
mod browser_answer;
mod browser_driver;
mod browser_given;
mod browser_images;
mod browser_list;
mod browser_memory;
mod browser_page;
mod browser_reach;
mod browser_report;
mod browser_try_on;
mod browser_verdicts;
mod browser_work;
mod one_file;
mod one_file_night;
#[allow(dead_code, reason = "shared; the other tests use the rest")]
#[path = "../../../../tests/integration/page_server.rs"]
mod page_server;
mod samples;
mod schemas;
