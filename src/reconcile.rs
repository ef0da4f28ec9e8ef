//! The whole path: read, expect, account, find, judge, report.
