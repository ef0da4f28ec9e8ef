//! Any bytes as a log: the reader may refuse them, never panic or hang.

#![no_main]

use std::cell::RefCell;
use std::io::{Seek, SeekFrom, Write};

use ampledger::calendar::Calendar;
use ampledger::log::{self, Request};
use libfuzzer_sys::fuzz_target;
use tempfile::NamedTempFile;

thread_local! {
    static FILE: RefCell<Option<NamedTempFile>> = const { RefCell::new(None) };
}

fuzz_target!(|bytes: &[u8]| {
    FILE.with_borrow_mut(|slot| {
        let file = slot.get_or_insert_with(|| {
            tempfile::Builder::new().suffix(".csv").tempfile().expect("a temporary file")
        });
        file.as_file().set_len(0).expect("an emptied file");
        file.seek(SeekFrom::Start(0)).expect("its beginning");
        file.write_all(bytes).expect("the bytes in it");
        let calendar = Calendar::fixed(chrono_tz::Europe::Copenhagen);
        let reading = log::look(&Request {
            paths: vec![file.path().to_path_buf()],
            entries: &[],
            folder: None,
            calendar: &calendar,
            zone: None,
            nominal_v: None,
            from: None,
            to: None,
        });
        let Ok(reading) = reading else { return };
        for file in &reading.inspection.files {
            let rows = &file.rows;
            let counted = rows.used + rows.repaired + rows.merged + rows.refused;
            assert_eq!(rows.read, counted, "every row is counted once");
        }
        for channel in &reading.timeline.channels {
            let series = &channel.series;
            let sums = series.in_h.iter().chain(&series.out_h);
            assert!(sums.into_iter().all(|v| v.is_finite() && *v >= 0.0));
            assert!(series.covered_s.iter().all(|s| s.is_finite()));
        }
    });
});
