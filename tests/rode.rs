//! The rode against numbers from outside this program. Sources and tolerances: `tests/reference/README.md`.

use nightrode::watch::rode::{Line, Section, pull_at, shape};
use nightrode::watch::units::{Metres, Newtons};

/// A table from `tests/reference`: a header, then rows; quoted fields may hold commas.
struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    fn read(name: &str) -> Self {
        let path = format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
        let mut rows = text.lines().map(fields);
        let header = rows.next().expect("a header");
        Self { header, rows: rows.collect() }
    }

    fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|fields| Row { header: &self.header, fields })
    }
}

struct Row<'a> {
    header: &'a [String],
    fields: &'a [String],
}

impl Row<'_> {
    fn text(&self, column: &str) -> &str {
        let i = self.header.iter().position(|name| name == column).unwrap_or_else(|| panic!("no {column}"));
        &self.fields[i]
    }

    fn number(&self, column: &str) -> f64 {
        self.maybe(column).unwrap_or_else(|| panic!("no number in {column}"))
    }

    fn maybe(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|e| panic!("{column}: {text}: {e}")))
    }
}

fn fields(line: &str) -> Vec<String> {
    let mut quoted = false;
    let parts = line.split(|c: char| {
        quoted ^= c == '"';
        c == ',' && !quoted
    });
    parts.map(|field| field.trim_matches('"').to_owned()).collect()
}

fn line_of(row: &Row<'_>) -> Line {
    let section = |length, weight, stiffness| {
        row.maybe(length).map(|metres| Section {
            length: Metres(metres),
            weight_n_per_m: row.number(weight),
            stiffness_n: row.maybe(stiffness),
        })
    };
    Line {
        chain: section("L_chain", "w_chain", "EA_chain").expect("every rode here has chain"),
        rope: section("L_rope", "w_rope", "EA_rope"),
    }
}

#[test]
fn the_catenary_agrees_with_a_mooring_solver() {
    let mut worst = [0.0_f64; 5];
    let table = Table::read("catenary.csv");
    for row in table.rows() {
        let (line, height, case) = (line_of(&row), Metres(row.number("h_m")), row.text("case"));
        let got = shape(&line, height, Newtons(row.number("H_N"))).unwrap();
        // A slack rode's reach is not unique: the file's is one that it allows.
        if case == "slack" {
            assert!(row.number("X_m") <= got.reach.0, "{case} at {height:?}");
        } else {
            worst[0] = worst[0].max((got.reach.0 - row.number("X_m")).abs());
        }
        let relative = |got: f64, column: &str| (got / row.number(column).max(1e-9) - 1.0).abs();
        worst[1] = worst[1].max((got.grounded.0 - row.number("grounded_m")).abs());
        worst[1] = worst[1].max((got.lifted.0 - row.number("lifted_m")).abs());
        worst[2] = worst[2].max(relative(got.tension_bow.0, "T_bow_N")).max(relative(got.v_bow.0, "V_bow_N"));
        if row.number("T_anchor_N") > 0.0 {
            worst[3] = worst[3].max(relative(got.tension_anchor.0, "T_anchor_N"));
        } else {
            assert_eq!(got.tension_anchor.0, 0.0);
        }
        worst[4] = worst[4].max((got.angle_anchor_deg - row.number("angle_anchor_deg")).abs());
        worst[4] = worst[4].max((got.angle_bow_deg - row.number("angle_bow_deg")).abs());
    }
    println!(
        "worst: reach {:.1e} m, grounded {:.1e} m, bow {:.1e}, anchor {:.1e}, angles {:.1e}°",
        worst[0], worst[1], worst[2], worst[3], worst[4]
    );
    let tolerance = [1e-3, 1e-3, 1e-3, 1e-3, 0.01];
    assert!(worst.iter().zip(tolerance).all(|(got, most)| *got <= most), "{worst:?}");
}

#[test]
fn the_pull_is_found_again_from_the_reach_where_that_is_well_conditioned() {
    for row in Table::read("catenary.csv").rows() {
        let (line, height, pull) = (line_of(&row), Metres(row.number("h_m")), row.number("H_N"));
        if ["mostly_grounded", "partly_grounded", "two_partly"].contains(&row.text("case")) {
            // The file's reach is rounded to a micrometre, worth up to 1e-4 of the pull here.
            let got = pull_at(&line, height, Metres(row.number("X_m"))).unwrap().0;
            assert!((got / pull - 1.0).abs() < 1e-3, "{pull} N came back as {got} N");
        }
    }
}
