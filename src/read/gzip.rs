//! Packed files: gzip around any other format, unpacked within bounds.

use crate::recording::{Finding, Place};
use flate2::bufread::GzDecoder;
use std::io::{ErrorKind, Read};

/// First bytes of gzip data (RFC 1952, section 2.3.1).
pub(super) const MAGIC: &[u8] = b"\x1f\x8b";

/// A packed file is held unpacked, unlike a large plain one, so it may hold no more than this, bytes.
const MOST_UNPACKED: u64 = 1 << 29;

/// The bytes inside, where the file is gzip data, else the bytes as they are.
///
/// # Errors
/// An error finding where the data are damaged or unpack to more than [`MOST_UNPACKED`].
pub(crate) fn unpack(bytes: Vec<u8>, shown_as: &str) -> Result<(Vec<u8>, Vec<Finding>), Finding> {
    if bytes.starts_with(MAGIC) {
        unpack_at_most(&bytes, MOST_UNPACKED, shown_as)
    } else {
        Ok((bytes, Vec::new()))
    }
}

fn unpack_at_most(
    packed: &[u8],
    most: u64,
    shown_as: &str,
) -> Result<(Vec<u8>, Vec<Finding>), Finding> {
    let fault = |message: String, help: &str| {
        Finding::error("gzip-unreadable", message)
            .at(Place::file(shown_as))
            .help(help)
    };
    let (mut plain, mut findings) = (Vec::new(), Vec::new());
    let mut rest = packed;
    // A gzip file may be several members one behind the other (RFC 1952, section 2.2).
    while rest.starts_with(MAGIC) {
        let mut member = GzDecoder::new(rest);
        let room = most.saturating_add(1).saturating_sub(plain.len() as u64);
        let read = member.by_ref().take(room).read_to_end(&mut plain);
        if plain.len() as u64 > most {
            return Err(fault(
                format!("{shown_as} unpacks to more than {most} bytes, the most that is read"),
                "unpack it (a plain file may be larger), cut the recording to the run, or export it at a lower rate",
            ));
        }
        match read {
            Ok(_) => rest = member.into_inner(),
            Err(error) if error.kind() == ErrorKind::UnexpectedEof && !plain.is_empty() => {
                whole_lines(&mut plain);
                findings.push(
                    Finding::doubt(
                        "file-truncated",
                        format!("{shown_as} ends in the middle of its gzip data: it was read as far as it goes, up to its last whole line"),
                    )
                    .at(Place::file(shown_as))
                    .help("copy the file again; the end of the recording is missing"),
                );
                return Ok((plain, findings));
            }
            // A wrong checksum does not say which number is wrong.
            Err(error) => {
                return Err(fault(
                    format!("the gzip data of {shown_as} are damaged: {error}"),
                    "copy the file again, or unpack it and look at it",
                ));
            }
        }
    }
    if rest.iter().any(|byte| *byte != 0) {
        findings.push(
            Finding::doubt(
                "gzip-trailing",
                format!(
                    "{} bytes behind the gzip data are none and were left out",
                    rest.len()
                ),
            )
            .at(Place::file(shown_as)),
        );
    }
    Ok((plain, findings))
}

/// Takes off a last line that was cut: its last number may have lost digits.
fn whole_lines(plain: &mut Vec<u8>) {
    if let Some(end) = plain.iter().rposition(|byte| matches!(byte, b'\n' | b'\r')) {
        // The end of a line in UTF-16 has a zero behind or before it.
        let zero = plain.get(end + 1) == Some(&0) && plain.get(end.wrapping_sub(1)) != Some(&0);
        plain.truncate(end + 1 + usize::from(zero));
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use flate2::{Compression, write::GzEncoder};
    use std::io::Write;

    fn pack(plain: &[u8]) -> Vec<u8> {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::default());
        encoder.write_all(plain).unwrap();
        encoder.finish().unwrap()
    }

    #[test]
    fn members_padding_and_plain_bytes() {
        let two = [pack(b"a,b\n"), pack(b"1,2\n"), vec![0; 512]].concat();
        assert_eq!(unpack(two, "t").unwrap(), (b"a,b\n1,2\n".to_vec(), vec![]));
        assert_eq!(unpack(b"1,2".to_vec(), "t").unwrap().0, b"1,2");
        let more = [pack(b"1\n"), b"tail".to_vec()].concat();
        let (plain, findings) = unpack(more, "t").unwrap();
        assert_eq!(
            (plain, findings[0].code.as_str()),
            (b"1\n".to_vec(), "gzip-trailing")
        );
    }

    #[test]
    fn what_unpacks_to_too_much_is_refused() {
        let packed = pack(&vec![b'7'; 100_000]);
        assert!(packed.len() < 1000);
        assert_eq!(
            unpack_at_most(&packed, 100_000, "t").unwrap().0.len(),
            100_000
        );
        let error = unpack_at_most(&packed, 99_999, "t").unwrap_err();
        assert!(error.message.contains("99999"), "{error}");
    }

    #[test]
    fn a_cut_is_a_doubt_and_damage_an_error() {
        let plain: Vec<u8> = (0..2000)
            .flat_map(|at| format!("{at},{}\n", at * 7 % 13).into_bytes())
            .collect();
        let packed = pack(&plain);
        let (part, findings) = unpack(packed[..packed.len() / 2].to_vec(), "t").unwrap();
        assert!(part.len() > 100 && plain.starts_with(&part) && part.ends_with(b"\n"));
        assert_eq!(findings[0].code, "file-truncated");
        let mut damaged = packed.clone();
        let crc = damaged.len() - 8;
        damaged[crc] ^= 1;
        assert_eq!(unpack(damaged, "t").unwrap_err().code, "gzip-unreadable");
    }
}
