//! Bytes of any encoding into lines of text, without ever holding a whole file.
//!
//! Eight-bit text stays as it is: digits and delimiters are ASCII in every encoding loggers use,
//! and the few cells read as words are decoded one by one ([`text`]). UTF-16 and encodings named
//! in the design are transcoded as they stream by.

use std::borrow::Cow;
use std::io::{self, Read};

use encoding_rs::{Decoder, Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// How a file packed with gzip begins.
const GZIP: [u8; 2] = [0x1f, 0x8b];

/// How line ends are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum LineEnd {
    /// LF, with any number of CR before it.
    Lf,
    /// CR alone.
    Cr,
}

/// What the first bytes of a file say about the rest.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Coding {
    /// Transcoded from this encoding; `None` for eight-bit text taken as it is.
    from: Option<&'static Encoding>,
    end: LineEnd,
}

impl Coding {
    /// The byte a line ends with.
    pub(crate) fn end(&self) -> u8 {
        match self.end {
            LineEnd::Lf => b'\n',
            LineEnd::Cr => b'\r',
        }
    }

    /// Whether the text is read as it stands.
    pub(crate) fn is_plain(&self) -> bool {
        self.from.is_none()
    }

    /// Name for `inspect`, where the stream is transcoded.
    pub(crate) fn name(&self) -> Option<String> {
        self.from.map(|e| e.name().to_ascii_lowercase())
    }
}

/// Text of a cell: UTF-8 where it is valid, else windows-1252.
pub(crate) fn text(cell: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(cell) {
        Ok(valid) => Cow::Borrowed(valid),
        Err(_) => WINDOWS_1252.decode_without_bom_handling(cell).0,
    }
}

/// A stream of bytes, through gzip where its first bytes say so, whatever the file's name.
///
/// # Errors
/// When the file cannot be read.
pub(crate) fn unpacked(mut file: impl Read + Send + 'static) -> io::Result<Box<dyn Read + Send>> {
    let mut first = Vec::with_capacity(GZIP.len());
    (&mut file)
        .take(GZIP.len() as u64)
        .read_to_end(&mut first)?;
    let packed = first == GZIP;
    let all = io::Cursor::new(first).chain(file);
    Ok(match packed {
        true => Box::new(flate2::read::MultiGzDecoder::new(all)),
        false => Box::new(all),
    })
}

/// A file as a stream of eight-bit text.
///
/// # Errors
/// When the file cannot be read.
pub(crate) fn stream(
    file: impl Read + Send + 'static,
    coding: Coding,
) -> io::Result<Box<dyn Read + Send>> {
    let bytes = unpacked(file)?;
    Ok(match coding.from {
        None => bytes,
        Some(encoding) => Box::new(Transcoder {
            inner: bytes,
            decoder: encoding.new_decoder(),
            raw: vec![0; 1 << 15],
            out: Vec::new(),
            at: 0,
            ended: false,
        }),
    })
}

/// Decides the encoding and the line ends from the front of a file.
///
/// # Errors
/// When `label` is no encoding of the WHATWG list.
pub(crate) fn sniff(bytes: &[u8], label: Option<&str>) -> io::Result<Coding> {
    let from = match label {
        Some(label) => {
            let named = Encoding::for_label(label.as_bytes()).ok_or_else(|| {
                io::Error::other(format!(
                    "'{label}' is not a known encoding; try \"utf-8\" or \"windows-1252\""
                ))
            })?;
            (named != encoding_rs::UTF_8 && named != WINDOWS_1252).then_some(named)
        }
        None => wide(bytes),
    };
    // Counted on the bytes as they are: in UTF-16 the ends are the same bytes with a NUL beside.
    let lf = memchr::memchr(b'\n', bytes).is_some();
    let cr = memchr::memchr(b'\r', bytes).is_some();
    let end = if cr && !lf { LineEnd::Cr } else { LineEnd::Lf };
    Ok(Coding { from, end })
}

/// UTF-16 by its mark, or by the NUL beside every ASCII letter.
fn wide(bytes: &[u8]) -> Option<&'static Encoding> {
    if bytes.starts_with(&[0xff, 0xfe]) {
        return Some(UTF_16LE);
    }
    if bytes.starts_with(&[0xfe, 0xff]) {
        return Some(UTF_16BE);
    }
    let pairs = bytes.len().min(4096) / 2;
    let zeros = |odd: usize| {
        bytes
            .chunks_exact(2)
            .take(pairs)
            .filter(|p| p[odd] == 0 && p[1 - odd] != 0)
            .count()
    };
    if pairs >= 4 && zeros(1) * 10 > pairs * 7 {
        return Some(UTF_16LE);
    }
    (pairs >= 4 && zeros(0) * 10 > pairs * 7).then_some(UTF_16BE)
}

/// A reader that transcodes to UTF-8.
struct Transcoder {
    inner: Box<dyn Read + Send>,
    decoder: Decoder,
    raw: Vec<u8>,
    out: Vec<u8>,
    at: usize,
    ended: bool,
}

impl Read for Transcoder {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while self.at == self.out.len() && !self.ended {
            let got = self.inner.read(&mut self.raw)?;
            self.ended = got == 0;
            self.out.resize(self.raw.len() * 3 + 16, 0);
            let (_, _, wrote, _) =
                self.decoder
                    .decode_to_utf8(&self.raw[..got], &mut self.out, self.ended);
            self.out.truncate(wrote);
            self.at = 0;
        }
        let count = into.len().min(self.out.len() - self.at);
        into[..count].copy_from_slice(&self.out[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

/// Whether a line leaves a quote open.
pub(crate) fn odd_quotes(line: &[u8]) -> bool {
    memchr::memchr_iter(b'"', line).count() % 2 == 1
}
