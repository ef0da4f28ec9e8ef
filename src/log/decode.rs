//! Bytes of any encoding into lines of text, without ever holding a whole file.
//!
//! Eight-bit text stays as it is: digits and delimiters are ASCII in every encoding loggers use,
//! and the few cells read as words are decoded one by one ([`text`]). UTF-16 and encodings named
//! in the design are transcoded as they stream by.

use std::borrow::Cow;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;

use encoding_rs::{Decoder, Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// Longest line taken; a longer one is cut, which makes its row too wide to be used.
const LONGEST: usize = 1 << 20;

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

/// Opens a file, through gzip where its first bytes say so, whatever its name.
fn open(path: &Path) -> io::Result<Box<dyn Read>> {
    let mut reader = BufReader::with_capacity(1 << 16, File::open(path)?);
    if reader.fill_buf()?.starts_with(&[0x1f, 0x8b]) {
        return Ok(Box::new(flate2::read::MultiGzDecoder::new(reader)));
    }
    Ok(Box::new(reader))
}

/// Reads up to `limit` bytes from the front of a file.
fn front(path: &Path, limit: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.take(limit).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Decides the encoding and the line ends from the first 64 KiB.
///
/// # Errors
/// When the file cannot be read, or `label` is no encoding of the WHATWG list.
pub(crate) fn sniff(path: &Path, label: Option<&str>) -> io::Result<Coding> {
    let bytes = front(path, 1 << 16)?;
    let from = match label {
        Some(label) => {
            let named = Encoding::for_label(label.as_bytes()).ok_or_else(|| {
                io::Error::other(format!(
                    "'{label}' is not a known encoding; try \"utf-8\" or \"windows-1252\""
                ))
            })?;
            (named != encoding_rs::UTF_8 && named != WINDOWS_1252).then_some(named)
        }
        None => wide(&bytes),
    };
    // Counted on the bytes as they are: in UTF-16 the ends are the same bytes with a NUL beside.
    let lf = bytes.contains(&b'\n');
    let cr = bytes.contains(&b'\r');
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
    inner: Box<dyn Read>,
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

fn odd_quotes(line: &[u8]) -> bool {
    line.contains(&b'"') && line.iter().filter(|b| **b == b'"').count() % 2 == 1
}

/// Lines of a file, counted from 1, without their ends.
pub(crate) struct Lines {
    reader: BufReader<Box<dyn Read>>,
    end: LineEnd,
    line: Vec<u8>,
    number: u64,
    /// A line read ahead to see whether it closes a quote.
    ahead: Vec<u8>,
    waiting: bool,
    joined: u64,
    /// Whether NUL bytes were dropped from the line last read.
    pub(crate) had_nul: bool,
}

impl Lines {
    /// Opens a file for reading by lines.
    ///
    /// # Errors
    /// When the file cannot be opened.
    pub(crate) fn open(path: &Path, coding: Coding) -> io::Result<Self> {
        let bytes = open(path)?;
        let reader: Box<dyn Read> = match coding.from {
            None => bytes,
            Some(encoding) => Box::new(Transcoder {
                inner: bytes,
                decoder: encoding.new_decoder(),
                raw: vec![0; 1 << 15],
                out: Vec::new(),
                at: 0,
                ended: false,
            }),
        };
        Ok(Self {
            reader: BufReader::with_capacity(1 << 17, reader),
            end: coding.end,
            line: Vec::with_capacity(256),
            number: 0,
            ahead: Vec::new(),
            waiting: false,
            joined: 0,
            had_nul: false,
        })
    }

    /// Number of the line last read.
    pub(crate) fn number(&self) -> u64 {
        self.number
    }

    /// The line last read.
    pub(crate) fn line(&self) -> &[u8] {
        &self.line
    }

    /// Reads the next line; false at the end of the file. A cell broken over two lines inside its
    /// quotes makes one line of them, under the first one's number.
    ///
    /// # Errors
    /// When the file cannot be read on (for instance a gzip stream that breaks off).
    pub(crate) fn advance(&mut self) -> io::Result<bool> {
        self.number += self.joined;
        self.joined = 0;
        if self.waiting {
            self.waiting = false;
            std::mem::swap(&mut self.line, &mut self.ahead);
        } else if !self.raw()? {
            return Ok(false);
        }
        self.number += 1;
        if self.number == 1 && self.line.starts_with(&[0xef, 0xbb, 0xbf]) {
            self.line.drain(..3);
        }
        if odd_quotes(&self.line) {
            self.close_quote()?;
        }
        self.had_nul = self.line.contains(&0);
        if self.had_nul {
            self.line.retain(|b| *b != 0);
        }
        Ok(true)
    }

    /// Joins the next line where it closes the quote this one leaves open.
    fn close_quote(&mut self) -> io::Result<()> {
        std::mem::swap(&mut self.line, &mut self.ahead);
        let found = self.raw()?;
        std::mem::swap(&mut self.line, &mut self.ahead);
        if found && odd_quotes(&self.ahead) {
            self.line.push(b' ');
            self.line.extend_from_slice(&self.ahead);
            self.joined = 1;
        } else {
            self.waiting = found;
        }
        Ok(())
    }

    /// Reads a line as it stands.
    fn raw(&mut self) -> io::Result<bool> {
        self.line.clear();
        let end = if self.end == LineEnd::Cr {
            b'\r'
        } else {
            b'\n'
        };
        if !self.fill(end)? {
            return Ok(false);
        }
        while self.line.last().is_some_and(|b| matches!(b, b'\r' | b'\n')) {
            self.line.pop();
        }
        Ok(true)
    }

    /// Appends bytes up to the line's end; false where there were none.
    fn fill(&mut self, end: u8) -> io::Result<bool> {
        let mut any = false;
        loop {
            let buffer = match self.reader.fill_buf() {
                Ok(buffer) => buffer,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            if buffer.is_empty() {
                return Ok(any);
            }
            any = true;
            let found = buffer.iter().position(|b| *b == end);
            let upto = found.unwrap_or(buffer.len());
            let room = LONGEST.saturating_sub(self.line.len()).min(upto);
            self.line.extend_from_slice(&buffer[..room]);
            let used = found.map_or(upto, |at| at + 1);
            self.reader.consume(used);
            if found.is_some() {
                return Ok(true);
            }
        }
    }
}
