//! A digest of all that was read, to tell whether two reports had the same inputs.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Digest of names and bytes, 64 bits: a multiply-and-rotate hash over eight bytes at a time, with
/// each name and each file's length mixed in. Stable over versions and machines; not cryptographic.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Digest(u64);

impl Digest {
    pub(crate) fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    #[inline]
    fn word(&mut self, word: u64) {
        self.0 = (self.0 ^ word)
            .wrapping_mul(0x9e37_79b9_7f4a_7c15)
            .rotate_left(29);
    }

    pub(crate) fn bytes(&mut self, bytes: &[u8]) {
        let mut words = bytes.chunks_exact(8);
        for chunk in &mut words {
            let mut word = [0_u8; 8];
            word.copy_from_slice(chunk);
            self.word(u64::from_le_bytes(word));
        }
        let rest = words.remainder();
        if !rest.is_empty() {
            let mut word = [0_u8; 8];
            word[..rest.len()].copy_from_slice(rest);
            self.word(u64::from_le_bytes(word));
        }
    }

    /// Mixes another digest in.
    pub(crate) fn join(&mut self, other: Self) {
        self.word(other.0);
    }

    pub(crate) fn hex(self) -> String {
        // Two closing turns spread the last word over all bits.
        let mut last = self;
        last.word(0);
        last.word(0);
        format!("{:016x}", last.0)
    }
}

/// A file whose bytes are mixed into a digest as they are read.
#[derive(Debug)]
struct Raw {
    file: File,
    /// `None` where nobody asks for it.
    digest: Option<Digest>,
    /// Bytes that do not fill a word yet.
    part: [u8; 8],
    filled: usize,
    total: Arc<AtomicU64>,
}

impl Raw {
    fn mix(&mut self, mut bytes: &[u8]) {
        let Some(digest) = &mut self.digest else {
            return;
        };
        if self.filled > 0 {
            let more = bytes.len().min(8 - self.filled);
            self.part[self.filled..self.filled + more].copy_from_slice(&bytes[..more]);
            self.filled += more;
            bytes = &bytes[more..];
            if self.filled < 8 {
                return;
            }
            digest.bytes(&self.part);
            self.filled = 0;
        }
        let whole = bytes.len() / 8 * 8;
        digest.bytes(&bytes[..whole]);
        let rest = &bytes[whole..];
        self.part[..rest.len()].copy_from_slice(rest);
        self.filled = rest.len();
    }

    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let got = self.file.read(into)?;
        self.total.fetch_add(got as u64, Ordering::Relaxed);
        self.mix(&into[..got]);
        Ok(got)
    }
}

/// Reads a file and keeps the digest of what it read. Clones read on in the same place.
#[derive(Debug, Clone)]
pub(crate) struct Digested {
    raw: Arc<Mutex<Raw>>,
    total: Arc<AtomicU64>,
}

impl Digested {
    /// Opens a file whose bytes are mixed into what was digested before.
    ///
    /// # Errors
    /// When the file cannot be opened.
    pub(crate) fn open(path: &Path, before: Option<Digest>) -> io::Result<Self> {
        let total = Arc::new(AtomicU64::new(0));
        let raw = Raw {
            file: File::open(path)?,
            digest: before,
            part: [0; 8],
            filled: 0,
            total: Arc::clone(&total),
        };
        Ok(Self {
            raw: Arc::new(Mutex::new(raw)),
            total,
        })
    }

    /// Bytes read so far.
    pub(crate) fn so_far(&self) -> u64 {
        self.total.load(Ordering::Relaxed)
    }

    /// The digest with all of the file and its length mixed in, whatever was read of it so far.
    ///
    /// # Errors
    /// When the file cannot be read on.
    pub(crate) fn finish(&self) -> io::Result<Option<Digest>> {
        let mut raw = self.raw.lock().unwrap_or_else(PoisonError::into_inner);
        if raw.digest.is_none() {
            return Ok(None);
        }
        // Most files have been read to their end: no need of a large block to see that.
        let mut few = [0; 64];
        if raw.read(&mut few)? > 0 {
            let mut block = vec![0; 1 << 16];
            while raw.read(&mut block)? > 0 {}
        }
        let mut digest = raw.digest;
        if let Some(digest) = &mut digest {
            digest.bytes(&raw.part[..raw.filled]);
            digest.word(self.so_far());
        }
        Ok(digest)
    }
}

impl Read for Digested {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.raw
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .read(into)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::io::Write as _;

    #[test]
    fn the_digest_does_not_depend_on_how_a_file_is_read() {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        let bytes: Vec<u8> = (0..10_003_u32).map(|k| (k * 7 % 251) as u8).collect();
        file.write_all(&bytes).unwrap();
        let digest = |piece: usize| {
            let mut reader = Digested::open(file.path(), Some(Digest::new())).unwrap();
            let mut into = vec![0; piece];
            for _ in 0..5 {
                let _ = reader.read(&mut into).unwrap();
            }
            reader.finish().unwrap().unwrap()
        };
        assert_eq!(digest(1), digest(3));
        assert_eq!(digest(1), digest(4096));
        assert_ne!(digest(1), Digest::new());
    }
}
