//! Where the energy went: days and the two accounts.
