//! Figures held against numbers from outside this program: rode, tide, sentences, the limit of theory. Sources and
//! tolerances: the pages in `tests/reference`.

mod by_hand;
mod limit;
mod n2k;
mod rode;
mod sentences;
mod surge;
mod tide;
