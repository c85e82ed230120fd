//! Decimal commas: `4,5` for 4.5 makes one field more of every number. No reading of such a sentence can be trusted.

use super::field::number;

/// Where a letter stands in each sentence (or nothing), counted from 0 behind the address: a unit, a side, a status. Layouts as in
/// IEC 61162-1.
fn letters(kind: [u8; 3]) -> &'static [usize] {
    match &kind {
        b"DBT" | b"DBS" | b"DBK" => &[1, 3, 5],
        b"MWV" => &[1, 3, 4],
        b"VHW" | b"VTG" | b"VWR" | b"VWT" | b"MWD" => &[1, 3, 5, 7],
        b"HDT" | b"HDM" | b"THS" | b"ROT" | b"MTW" => &[1],
        b"HDG" => &[2, 4],
        b"RPM" => &[0, 4],
        b"MDA" => &[1, 3, 5, 7, 11, 13, 15, 17, 19],
        _ => &[],
    }
}

/// Whether decimals stand where they cannot: the sentence was written with decimal commas.
pub(super) fn is_decimal(kind: [u8; 3], data: Option<&[u8]>) -> bool {
    let fields: Vec<&[u8]> = data.map_or_else(Vec::new, |data| data.split(|b| *b == b',').collect());
    match &kind {
        b"DPT" => is_decimal_depth(&fields),
        // Groups of kind, value, unit, name.
        b"XDR" => fields.iter().enumerate().any(|(at, field)| at % 2 == 0 && is_figures(field)),
        _ => letters(kind).iter().filter_map(|at| fields.get(*at)).any(|field| is_figures(field)),
    }
}

/// DPT has a depth, an offset and the scale of the display. Four fields are too many; a display reaches as deep as what it shows;
/// and a whole depth before a whole, bare offset other than 0 is likelier a depth with a decimal.
fn is_decimal_depth(fields: &[&[u8]]) -> bool {
    match fields {
        [depth, offset] => is_figures(depth) && is_figures(offset) && !offset.iter().all(|b| *b == b'0'),
        [depth, offset, scale] => {
            let shown = number(depth).zip(number(scale)).is_some_and(|(depth, scale)| scale < depth);
            shown || is_decimal_depth(&[depth, offset])
        }
        more => more.len() > 3,
    }
}

fn is_figures(field: &[u8]) -> bool {
    !field.is_empty() && field.iter().all(u8::is_ascii_digit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_with_a_decimal_comma_is_never_read_as_another() {
        for (kind, data) in [
            (b"DPT", "4,5,0,5"),
            (b"DPT", "4,5,0.5"),
            (b"DPT", "4,5"),
            (b"DPT", "4,5,0,5,100,0"),
            (b"DBT", "14,8,f,4,5,M,2,5,F"),
            (b"MTW", "18,5,C"),
            (b"MWV", "123,4,R,12,3,N,A"),
            (b"VHW", "236,7,T,240,1,M,5,2,N,9,6,K"),
            (b"HDT", "236,7,T"),
            (b"HDG", "236,7,0,0,E,3,2,E"),
            (b"XDR", "P,1,013,B,BARO"),
            (b"MDA", "29,92,I,1,013,B,,,,,,,,,,,,,,"),
        ] {
            assert!(is_decimal(*kind, Some(data.as_bytes())), "{data}");
        }
    }

    #[test]
    fn what_is_written_with_points_passes() {
        for (kind, data) in [
            (b"DPT", "4.5,0.5,100"),
            (b"DPT", "4.5,0.5"),
            (b"DPT", "4,0"),
            (b"DPT", "4.5,-1"),
            (b"DPT", "4.5,,"),
            (b"DPT", ""),
            (b"DPT", "12.0,1,100.0"),
            (b"DBT", "14.8,f,4.5,M,2.5,F"),
            (b"MWV", "123.4,R,12.3,N,A"),
            (b"HDG", "236.7,,,3.2,E"),
            (b"XDR", "P,1.013,B,BARO,C,19.5,C,AIR1"),
            (b"RPM", "E,1,2400,0,A"),
        ] {
            assert!(!is_decimal(*kind, Some(data.as_bytes())), "{data}");
        }
    }
}
