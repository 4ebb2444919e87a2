//! Bytes as a part of a workbook: a ZIP archive has checksums, so changes to its bytes would hardly ever get past them.

use flate2::Crc;

const WORKBOOK: &str = r#"<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="runs" sheetId="1" r:id="rId1"/></sheets></workbook>"#;
const RELATIONS: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/><Relationship Id="rId3" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/></Relationships>"#;
const SHEET: &str = r#"<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><dimension ref="A1:C5"/><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c></row><row r="2"><c r="A2" s="1"><v>0.5</v></c><c r="B2"><v>12.25</v></c></row><row r="3"><c r="A3" s="1"><v>0.6</v></c><c r="B3"><v>13</v></c></row><row r="4"><c r="A4"><v>0.7</v></c><c r="B4" t="e"><v>#N/A</v></c></row><row r="5"><c r="A5"><v>0.8</v></c><c r="B5"><v>13</v></c></row></sheetData></worksheet>"#;
const STRINGS: &str = r#"<?xml version="1.0"?><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" count="2" uniqueCount="2"><si><t>time [s]</t></si><si><t>pressure [kPa]</t></si></sst>"#;
const STYLES: &str = r#"<?xml version="1.0"?><styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><numFmts count="1"><numFmt numFmtId="164" formatCode="yyyy-mm-dd hh:mm:ss"/></numFmts><cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="164"/></cellXfs></styleSheet>"#;
const MANIFEST: &str = r#"<?xml version="1.0"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/></manifest:manifest>"#;

/// The workbook that bytes stand for: after `1` to `4` a sheet, the shared strings, the styles or the list of sheets of an XLSX
/// file, after `5` the content of an ODS file, else the bytes as they are.
pub fn wrapped(data: &[u8]) -> Vec<u8> {
    let Some((kind, part)) = data.split_first() else {
        return Vec::new();
    };
    let xlsx = |place: usize| {
        let mut parts: Vec<(&str, &[u8])> = vec![
            ("xl/worksheets/sheet1.xml", SHEET.as_bytes()),
            ("xl/sharedStrings.xml", STRINGS.as_bytes()),
            ("xl/styles.xml", STYLES.as_bytes()),
            ("xl/workbook.xml", WORKBOOK.as_bytes()),
            ("xl/_rels/workbook.xml.rels", RELATIONS.as_bytes()),
        ];
        parts[place].1 = part;
        archive(&parts)
    };
    match kind {
        b'1'..=b'4' => xlsx(usize::from(kind - b'1')),
        b'5' => archive(&[
            (
                "mimetype",
                b"application/vnd.oasis.opendocument.spreadsheet",
            ),
            ("META-INF/manifest.xml", MANIFEST.as_bytes()),
            ("content.xml", part),
        ]),
        _ => data.to_vec(),
    }
}

/// A ZIP archive of parts that are stored as they are (APPNOTE.TXT 6.3, sections 4.3.7, 4.3.12 and 4.3.16).
fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let (mut body, mut directory) = (Vec::new(), Vec::new());
    for (name, bytes) in parts {
        let mut crc = Crc::new();
        crc.update(bytes);
        let (size, at) = (bytes.len() as u32, body.len() as u32);
        let mut about = vec![10, 0, 0, 0, 0, 0, 0, 0, 0x21, 0x58];
        for number in [crc.sum(), size, size] {
            about.extend(number.to_le_bytes());
        }
        about.extend((name.len() as u16).to_le_bytes());
        about.extend([0, 0]);
        body.extend(b"PK\x03\x04");
        body.extend(&about);
        body.extend(name.as_bytes());
        body.extend(*bytes);
        directory.extend(b"PK\x01\x02\x0a\0");
        directory.extend(&about);
        directory.extend([0; 10]);
        directory.extend(at.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let (size, at, count) = (
        directory.len() as u32,
        body.len() as u32,
        parts.len() as u16,
    );
    body.extend(directory);
    body.extend(b"PK\x05\x06\0\0\0\0");
    body.extend(count.to_le_bytes());
    body.extend(count.to_le_bytes());
    body.extend(size.to_le_bytes());
    body.extend(at.to_le_bytes());
    body.extend([0, 0]);
    body
}
