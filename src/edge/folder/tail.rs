//! The end of a file to which lines were appended when the power went.

use std::io::{self, Read, Seek, SeekFrom};

use super::disk::DiskFile;

/// How much is read at once.
const CHUNK: u64 = 8192;

/// Cuts off a torn last line: everything behind the last line feed. Returns how many bytes that was.
pub(super) fn cut_torn_line(file: &mut dyn DiskFile) -> io::Result<u64> {
    let length = file.status()?.length;
    let whole = whole_lines(file, length)?;
    if whole < length {
        file.cut(whole)?;
    }
    Ok(length - whole)
}

/// Length of the part of a file that ends with a line feed.
pub(super) fn whole_lines(file: &mut (impl Read + Seek + ?Sized), length: u64) -> io::Result<u64> {
    let mut end = length;
    let mut chunk = Vec::new();
    while end > 0 {
        let start = end.saturating_sub(CHUNK);
        file.seek(SeekFrom::Start(start))?;
        chunk.resize((end - start) as usize, 0);
        file.read_exact(&mut chunk)?;
        if let Some(at) = chunk.iter().rposition(|b| *b == b'\n') {
            return Ok(start + at as u64 + 1);
        }
        end = start;
    }
    Ok(0)
}

/// The last `most` bytes of the whole lines of a file, from the beginning of a line.
pub(super) fn last_lines(
    file: &mut (impl Read + Seek + ?Sized),
    length: u64,
    most: u64,
) -> io::Result<Vec<u8>> {
    let end = whole_lines(file, length)?;
    let start = end.saturating_sub(most);
    file.seek(SeekFrom::Start(start))?;
    let mut bytes = vec![0; (end - start) as usize];
    file.read_exact(&mut bytes)?;
    let first =
        if start == 0 { 0 } else { bytes.iter().position(|b| *b == b'\n').map_or(bytes.len(), |at| at + 1) };
    Ok(bytes.split_off(first))
}

#[cfg(test)]
mod tests {
    use std::io::{Cursor, Write as _};

    use super::*;

    #[test]
    fn what_stands_behind_the_last_line_feed_is_cut_off() {
        for (before, after) in [
            (&b"a\nb\ntorn"[..], &b"a\nb\n"[..]),
            (b"whole\n", b"whole\n"),
            (b"torn", b""),
            (b"", b""),
            (b"a\n\0\0\0\0", b"a\n"),
        ] {
            let mut file = tempfile::tempfile().unwrap();
            file.write_all(before).unwrap();
            assert_eq!(cut_torn_line(&mut file).unwrap(), (before.len() - after.len()) as u64);
            let mut left = Vec::new();
            file.rewind().unwrap();
            file.read_to_end(&mut left).unwrap();
            assert_eq!(left, after);
        }
    }

    #[test]
    fn a_torn_line_longer_than_a_chunk_is_found_whole() {
        let mut text = b"whole\n".to_vec();
        text.resize(30_000, b'x');
        assert_eq!(whole_lines(&mut Cursor::new(&text), 30_000).unwrap(), 6);
    }

    #[test]
    fn the_last_lines_begin_with_a_line() {
        let text = b"first\nsecond\nthird\nto";
        let last = |most| last_lines(&mut Cursor::new(text), text.len() as u64, most).unwrap();
        assert_eq!(last(9), b"third\n");
        assert_eq!(last(1000), b"first\nsecond\nthird\n");
        assert_eq!(last(3), b"");
    }
}
