//! Compound files (OLE): the streams of a workbook of the old kind, and whether its chains of sectors end at all.
//!
//! Layout after MS-CFB, Compound File Binary File Format, sections 2.2 (header), 2.3 (FAT), 2.5 (DIFAT), 2.6 (directory).

/// Length of the header, bytes; behind it sectors follow, the first one at the next multiple of the sector size.
const HEADER: usize = 512;
/// Entries of the DIFAT in the header begin here.
const DIFAT_AT: usize = 76;
/// Sector numbers from here on have another meaning: free, end of a chain, part of a table.
const NO_SECTOR: u32 = 0xffff_fffa;
/// Bytes of an entry of the directory.
const ENTRY: usize = 128;
/// Shorter streams lie in a store of their own. The workbook of no spreadsheet program is as short.
const SHORT: usize = 4096;

/// A compound file whose chains all end.
#[derive(Debug)]
pub(super) struct Compound<'b> {
    /// The sectors, one behind the other.
    body: &'b [u8],
    sector: usize,
    fat: Vec<u32>,
}

fn number(bytes: &[u8], at: usize) -> Option<u32> {
    let field = bytes.get(at..at.checked_add(4)?)?;
    field.try_into().ok().map(u32::from_le_bytes)
}

fn numbers(bytes: &[u8]) -> impl Iterator<Item = u32> + '_ {
    bytes.chunks_exact(4).filter_map(|chunk| number(chunk, 0))
}

impl<'b> Compound<'b> {
    /// Reads the tables of sectors; `None` where they are damaged: a sector that is not there, one used twice, a chain that comes
    /// back to where it was.
    pub fn new(bytes: &'b [u8]) -> Option<Self> {
        let sector = match bytes.get(30..32)? {
            [9, 0] => 512,
            [12, 0] => 4096,
            _ => return None,
        };
        let mut file = Self {
            body: bytes.get(HEADER.max(sector)..)?,
            sector,
            fat: Vec::new(),
        };
        let tables = file.tables(bytes)?;
        let mut fat = Vec::new();
        for table in tables {
            fat.extend(numbers(file.at(table)?));
        }
        file.fat = fat;
        file.ends().then_some(file)
    }

    /// The sectors that hold the FAT, in their order: the first of them stand in the header, the others in a list of sectors.
    fn tables(&self, bytes: &[u8]) -> Option<Vec<u32>> {
        let mut tables: Vec<u32> = numbers(bytes.get(DIFAT_AT..HEADER)?).collect();
        let mut next = number(bytes, 68)?;
        let mut lists = 0;
        while next < NO_SECTOR {
            lists += 1;
            if lists > bytes.len() / self.sector {
                return None;
            }
            tables.extend(numbers(self.at(next)?));
            next = tables.pop()?;
        }
        tables.retain(|table| *table < NO_SECTOR);
        let mut sorted = tables.clone();
        sorted.sort_unstable();
        sorted.dedup();
        (sorted.len() == tables.len()).then_some(tables)
    }

    fn at(&self, sector: u32) -> Option<&'b [u8]> {
        let start = (sector as usize).checked_mul(self.sector)?;
        let end = start.checked_add(self.sector)?.min(self.body.len());
        self.body.get(start..end)
    }

    /// True if no chain runs in a circle: no sector follows on two others, and from those that follow on none all are reached.
    fn ends(&self) -> bool {
        let next = |at: usize| {
            let next = self.fat.get(at).copied().filter(|next| *next < NO_SECTOR)?;
            // A chain that leaves the table ends there; its reader will say so.
            Some(next as usize).filter(|next| *next < self.fat.len())
        };
        let mut follows = vec![false; self.fat.len()];
        let mut links = 0_usize;
        for sector in (0..self.fat.len()).filter_map(next) {
            if std::mem::replace(&mut follows[sector], true) {
                return false;
            }
            links += 1;
        }
        let firsts = (0..self.fat.len()).filter(|at| !follows[*at]);
        let reached = firsts.flat_map(|first| std::iter::successors(next(first), |at| next(*at)));
        reached.count() == links
    }

    /// The bytes of a chain, at most so many; `None` where it leaves the table or the file.
    fn chain(&self, first: u32, most: usize) -> Option<Vec<u8>> {
        let mut bytes = Vec::new();
        let mut sector = first;
        while sector < NO_SECTOR && bytes.len() < most {
            let part = self.at(sector)?;
            bytes.extend_from_slice(&part[..part.len().min(most - bytes.len())]);
            sector = *self.fat.get(sector as usize)?;
        }
        Some(bytes)
    }

    /// The streams of one of these names, whatever the case of their letters; `None` where one is damaged or as short as no
    /// workbook is.
    pub fn streams(&self, header: &[u8], names: &[&str]) -> Option<Vec<Vec<u8>>> {
        let directory = self.chain(number(header, 48)?, usize::MAX)?;
        let mut streams = Vec::new();
        for entry in directory.chunks_exact(ENTRY) {
            let name: String = char::decode_utf16(
                entry[..64]
                    .chunks_exact(2)
                    .map(|pair| u16::from_le_bytes([pair[0], pair[1]])),
            )
            .map_while(Result::ok)
            .take_while(|letter| *letter != '\0')
            .collect();
            if !names
                .iter()
                .any(|wanted| wanted.eq_ignore_ascii_case(&name))
            {
                continue;
            }
            let beyond = if self.sector == 512 {
                0
            } else {
                number(entry, 124)?
            };
            let length = if beyond > 0 {
                usize::MAX
            } else {
                number(entry, 120)? as usize
            };
            if length < SHORT {
                return None;
            }
            streams.push(self.chain(number(entry, 116)?, length)?);
        }
        Some(streams)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
pub(super) mod tests {
    use super::*;

    const END: u32 = 0xffff_fffe;
    const FREE: u32 = 0xffff_ffff;

    /// A compound file with one stream, `Workbook`: sector 0 holds the FAT, 1 the directory, the others the stream.
    pub fn compound(stream: &[u8]) -> Vec<u8> {
        let mut stream = stream.to_vec();
        stream.resize(stream.len().max(SHORT).next_multiple_of(512), 0);
        let sectors = stream.len() / 512;
        let mut header = vec![0; HEADER];
        header[..8].copy_from_slice(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1");
        header[30] = 9;
        header[48..52].copy_from_slice(&1_u32.to_le_bytes());
        header[68..72].copy_from_slice(&END.to_le_bytes());
        header[DIFAT_AT..].fill(0xff);
        header[DIFAT_AT..DIFAT_AT + 4].copy_from_slice(&0_u32.to_le_bytes());
        let mut fat = vec![0xffff_fffd, END];
        fat.extend((0..sectors as u32).map(|at| {
            if at as usize + 1 < sectors {
                at + 3
            } else {
                END
            }
        }));
        fat.resize(128, FREE);
        let mut directory = vec![0; 512];
        for (at, letter) in "Workbook".encode_utf16().enumerate() {
            directory[2 * at..2 * at + 2].copy_from_slice(&letter.to_le_bytes());
        }
        directory[116..120].copy_from_slice(&2_u32.to_le_bytes());
        directory[120..124].copy_from_slice(&(stream.len() as u32).to_le_bytes());
        let fat: Vec<u8> = fat.iter().flat_map(|entry| entry.to_le_bytes()).collect();
        [header, fat, directory, stream].concat()
    }

    /// The file with another sector following on one.
    fn relinked(sector: usize, next: u32) -> Vec<u8> {
        let mut bytes = compound(&[7; 5000]);
        let at = HEADER + 4 * sector;
        bytes[at..at + 4].copy_from_slice(&next.to_le_bytes());
        bytes
    }

    #[test]
    fn a_stream_is_what_was_put_in() {
        let bytes = compound(&[7; 5000]);
        let file = Compound::new(&bytes).unwrap();
        let streams = file.streams(&bytes, &["WORKBOOK"]).unwrap();
        assert_eq!(streams.len(), 1);
        assert_eq!(streams[0][..5000], [7; 5000]);
        assert_eq!(file.streams(&bytes, &["Book"]).unwrap().len(), 0);
    }

    #[test]
    fn chains_that_never_end_are_refused() {
        // Back to its own beginning, to itself, into another chain, and a circle that no stream begins.
        for (sector, next) in [(11, 2), (5, 5), (11, 3), (100, 100)] {
            assert!(
                Compound::new(&relinked(sector, next)).is_none(),
                "{sector} to {next}"
            );
        }
        // A chain that leaves the file ends, though nothing can be read from it.
        let bytes = relinked(11, 90);
        let file = Compound::new(&bytes).unwrap();
        assert_eq!(
            file.streams(&bytes, &["Workbook"]).map(|s| s.len()),
            Some(1)
        );
    }

    #[test]
    fn tables_that_are_cut_or_stand_twice_are_refused() {
        let bytes = compound(&[7; 5000]);
        for length in [0, 30, 400, 512, 700] {
            let cut = &bytes[..length];
            let streams = Compound::new(cut).and_then(|file| file.streams(cut, &["Workbook"]));
            assert!(streams.is_none(), "{length}");
        }
        let mut twice = bytes;
        twice[DIFAT_AT + 4..DIFAT_AT + 8].copy_from_slice(&0_u32.to_le_bytes());
        assert!(Compound::new(&twice).is_none());
    }
}
