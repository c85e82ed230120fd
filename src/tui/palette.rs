//! What the inks look like: day, dusk and night, in true colour, 256, 16 or no colours.
//!
//! Widgets name an [`Ink`] by its job and never a colour. Three steps of brightness do most of the work; one accent
//! marks the boat and one marks trouble. The word always says the same as the colour.

use ratatui::style::{Color, Modifier, Style};

/// What a mark on the screen is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ink {
    /// Rules, old track, hatching: lines only, never words.
    Faint,
    /// Labels and what is stale.
    Dim,
    /// What is said.
    Text,
    /// What matters most.
    Strong,
    /// The boat, and what the crew can do.
    Boat,
    /// Trouble, as words or lines.
    Trouble,
    /// Trouble as a filled block: an alarm.
    Fill,
    /// The row or field that the crew is at.
    Picked,
}

impl Ink {
    /// Every ink.
    pub const ALL: [Self; 8] = [
        Self::Faint,
        Self::Dim,
        Self::Text,
        Self::Strong,
        Self::Boat,
        Self::Trouble,
        Self::Fill,
        Self::Picked,
    ];
}

/// Which light the screen is read in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Light {
    /// Dark on light, for a cockpit in the sun.
    Day,
    /// Light on dark.
    #[default]
    Dusk,
    /// Reds only, for eyes that are used to the dark.
    Night,
}

impl Light {
    /// The next one round.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Day => Self::Dusk,
            Self::Dusk => Self::Night,
            Self::Night => Self::Day,
        }
    }

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Dusk => "dusk",
            Self::Night => "night",
        }
    }
}

/// How many colours the terminal has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Colours {
    /// 24 bits.
    #[default]
    TrueColour,
    /// The 6×6×6 cube of xterm.
    Cube256,
    /// The sixteen that every terminal has.
    Ansi16,
    /// None: bold, underlined and reversed only.
    Mono,
}

/// The inks for one light on one kind of terminal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Palette {
    /// Which light.
    pub light: Light,
    /// How many colours.
    pub colours: Colours,
}

type Rgb = (u8, u8, u8);

/// The seven colours of one light.
struct Tones {
    ground: Rgb,
    faint: Rgb,
    dim: Rgb,
    text: Rgb,
    strong: Rgb,
    boat: Rgb,
    trouble: Rgb,
}

// Words have a contrast of at least 4.5 against their ground (WCAG 2.1, success criterion 1.4.3), lines of at least
// 1.5. Night gives up some of it: pure red cannot pass 5.3 against black, and eyes used to the dark need less, so
// words there have at least 3. The tests hold these.
const DAY: Tones = Tones {
    ground: (0xf5, 0xf2, 0xe9),
    faint: (0xb9, 0xb3, 0xa3),
    dim: (0x5d, 0x59, 0x4e),
    text: (0x26, 0x24, 0x1f),
    strong: (0x00, 0x00, 0x00),
    boat: (0x0a, 0x55, 0x85),
    trouble: (0xb2, 0x14, 0x0c),
};
const DUSK: Tones = Tones {
    ground: (0x0d, 0x11, 0x17),
    faint: (0x42, 0x4b, 0x58),
    dim: (0x8c, 0x97, 0xa6),
    text: (0xc6, 0xce, 0xd8),
    strong: (0xfb, 0xfc, 0xfd),
    boat: (0x6f, 0xcf, 0xd6),
    trouble: (0xff, 0x76, 0x66),
};
const NIGHT: Tones = Tones {
    ground: (0x00, 0x00, 0x00),
    faint: (0x80, 0x00, 0x00),
    dim: (0xc4, 0x00, 0x00),
    text: (0xec, 0x08, 0x00),
    strong: (0xff, 0x38, 0x20),
    boat: (0xff, 0x50, 0x30),
    trouble: (0xff, 0x28, 0x10),
};

impl Palette {
    /// The style of an ink, ground included.
    #[must_use]
    pub fn style(self, ink: Ink) -> Style {
        match self.colours {
            Colours::Mono => mono(ink),
            Colours::Ansi16 => self.ansi(ink),
            Colours::TrueColour | Colours::Cube256 => self.toned(ink),
        }
    }

    /// The style of the empty ground.
    #[must_use]
    pub fn ground(self) -> Style {
        self.style(Ink::Text)
    }

    /// The style of the whole screen turned over, for the flash that stands in for a sound.
    #[must_use]
    pub fn flashed(self) -> Style {
        match self.colours {
            Colours::Mono => Style::reset().add_modifier(Modifier::REVERSED),
            _ => {
                let ground = self.style(Ink::Strong);
                plain(ground.bg.unwrap_or_default(), ground.fg.unwrap_or_default())
            }
        }
    }

    /// The style of a code for cameras, dark on light whatever the light about it, and whether its dark modules are what is
    /// drawn: without colours its light ones are, which on a dark terminal are the lighter.
    #[must_use]
    pub fn code(self) -> (bool, Style) {
        let strong = self.style(Ink::Strong);
        let (ink, ground) = (strong.fg.unwrap_or_default(), strong.bg.unwrap_or_default());
        match (self.colours, self.light) {
            (Colours::Mono, _) => (false, Style::reset()),
            (_, Light::Day) => (true, plain(ink, ground)),
            (_, Light::Dusk | Light::Night) => (true, plain(ground, ink)),
        }
    }

    fn toned(self, ink: Ink) -> Style {
        let tones = match self.light {
            Light::Day => &DAY,
            Light::Dusk => &DUSK,
            Light::Night => &NIGHT,
        };
        let colour = |rgb| if self.colours == Colours::Cube256 { cube(rgb) } else { exact(rgb) };
        let on_ground = |rgb| plain(colour(rgb), colour(tones.ground));
        match ink {
            Ink::Faint => on_ground(tones.faint),
            Ink::Dim => on_ground(tones.dim),
            Ink::Text => on_ground(tones.text),
            Ink::Strong => on_ground(tones.strong).add_modifier(Modifier::BOLD),
            Ink::Boat => on_ground(tones.boat).add_modifier(Modifier::BOLD),
            Ink::Trouble => on_ground(tones.trouble).add_modifier(Modifier::BOLD),
            Ink::Fill => plain(colour(tones.ground), colour(tones.trouble)).add_modifier(Modifier::BOLD),
            Ink::Picked => plain(colour(tones.ground), colour(tones.text)).add_modifier(Modifier::BOLD),
        }
    }

    fn ansi(self, ink: Ink) -> Style {
        use Color::{Black, Blue, DarkGray, Gray, LightCyan, LightRed, Red, White};
        // Faint, dim, text, strong, boat, trouble, on this ground.
        let (ground, inks) = match self.light {
            Light::Day => (White, [DarkGray, DarkGray, Black, Black, Blue, Red]),
            Light::Dusk => (Black, [DarkGray, Gray, Gray, White, LightCyan, LightRed]),
            Light::Night => (Black, [Red, Red, Red, LightRed, LightRed, LightRed]),
        };
        let [faint, dim, text, strong, boat, trouble] = inks;
        match ink {
            // Not dimmed: the kernel's console draws what is dim in grey, at night too.
            Ink::Faint => plain(faint, ground),
            Ink::Dim => plain(dim, ground),
            Ink::Text => plain(text, ground),
            Ink::Strong => plain(strong, ground).add_modifier(Modifier::BOLD),
            Ink::Boat => plain(boat, ground).add_modifier(Modifier::BOLD),
            Ink::Trouble => plain(trouble, ground).add_modifier(Modifier::BOLD),
            Ink::Fill => plain(ground, trouble).add_modifier(Modifier::BOLD),
            Ink::Picked => plain(ground, text).add_modifier(Modifier::BOLD),
        }
    }
}

/// Nothing inherited: whatever a cell held before is gone.
fn plain(fg: Color, bg: Color) -> Style {
    Style::reset().fg(fg).bg(bg)
}

fn mono(ink: Ink) -> Style {
    let modifier = match ink {
        Ink::Faint | Ink::Dim => Modifier::DIM,
        Ink::Text => Modifier::empty(),
        Ink::Strong | Ink::Boat => Modifier::BOLD,
        Ink::Trouble => Modifier::BOLD.union(Modifier::UNDERLINED),
        Ink::Fill | Ink::Picked => Modifier::BOLD.union(Modifier::REVERSED),
    };
    Style::reset().add_modifier(modifier)
}

fn exact((r, g, b): Rgb) -> Color {
    Color::Rgb(r, g, b)
}

/// The nearest colour of xterm's 6×6×6 cube, whose steps are 0, 95, 135, 175, 215, 255.
fn cube((r, g, b): Rgb) -> Color {
    let step = |value: u8| match value {
        0..48 => 0,
        48..115 => 1,
        _ => (value - 35) / 40,
    };
    Color::Indexed(16 + 36 * step(r) + 6 * step(g) + step(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIGHTS: [Light; 3] = [Light::Day, Light::Dusk, Light::Night];

    fn rgb(colour: Option<Color>) -> Rgb {
        match colour {
            Some(Color::Rgb(r, g, b)) => (r, g, b),
            Some(Color::Indexed(index)) => {
                let level = |n: u8| [0, 95, 135, 175, 215, 255][usize::from(n)];
                let n = index - 16;
                (level(n / 36), level(n / 6 % 6), level(n % 6))
            }
            other => panic!("not a measurable colour: {other:?}"),
        }
    }

    /// Relative luminance and contrast ratio as WCAG 2.1 defines them.
    fn contrast(a: Rgb, b: Rgb) -> f64 {
        let linear = |channel: u8| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        let luminance = |(r, g, b): Rgb| 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
        let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
        a.max(b) / a.min(b)
    }

    #[test]
    fn every_word_can_be_read_in_every_light() {
        for colours in [Colours::TrueColour, Colours::Cube256] {
            for light in LIGHTS {
                let palette = Palette { light, colours };
                let least = if light == Light::Night { 3.0 } else { 4.5 };
                for ink in Ink::ALL {
                    let style = palette.style(ink);
                    let got = contrast(rgb(style.fg), rgb(style.bg));
                    let least = if ink == Ink::Faint { 1.5 } else { least };
                    assert!(got >= least, "{light:?} {colours:?} {ink:?}: {got:.2}");
                }
                let style = palette.flashed();
                assert!(contrast(rgb(style.fg), rgb(style.bg)) >= least, "{light:?} flashed");
            }
        }
    }

    #[test]
    fn brightness_alone_tells_the_steps_apart() {
        for light in LIGHTS {
            let palette = Palette { light, colours: Colours::TrueColour };
            let ground = rgb(palette.ground().bg);
            let steps = [Ink::Faint, Ink::Dim, Ink::Text, Ink::Strong];
            let contrasts = steps.map(|ink| contrast(rgb(palette.style(ink).fg), ground));
            assert!(contrasts.windows(2).all(|pair| pair[1] > 1.25 * pair[0]), "{light:?} {contrasts:?}");
        }
    }

    #[test]
    fn night_is_red_and_nothing_else() {
        for colours in [Colours::TrueColour, Colours::Cube256] {
            let palette = Palette { light: Light::Night, colours };
            let styles = Ink::ALL.map(|ink| palette.style(ink));
            for style in styles.into_iter().chain([palette.flashed()]) {
                for (r, g, b) in [rgb(style.fg), rgb(style.bg)] {
                    assert!(
                        u16::from(g) * 2 <= u16::from(r) && u16::from(b) * 2 <= u16::from(r),
                        "{style:?}"
                    );
                }
            }
        }
        let palette = Palette { light: Light::Night, colours: Colours::Ansi16 };
        for ink in Ink::ALL {
            let style = palette.style(ink);
            for colour in [style.fg, style.bg] {
                assert!(
                    matches!(colour, Some(Color::Red | Color::LightRed | Color::Black)),
                    "{ink:?} {colour:?}"
                );
            }
        }
    }

    /// The kernel's console draws what is dim in grey, whatever its colour.
    #[test]
    fn with_sixteen_colours_nothing_is_dim() {
        for light in LIGHTS {
            let palette = Palette { light, colours: Colours::Ansi16 };
            assert!(Ink::ALL.iter().all(|ink| !palette.style(*ink).add_modifier.contains(Modifier::DIM)));
        }
    }

    #[test]
    fn alarm_and_plain_words_differ_without_any_colour() {
        let palette = Palette { light: Light::Dusk, colours: Colours::Mono };
        let differ = |a, b| palette.style(a) != palette.style(b);
        assert!(
            differ(Ink::Fill, Ink::Text)
                && differ(Ink::Trouble, Ink::Text)
                && differ(Ink::Fill, Ink::Trouble)
        );
        assert_eq!(palette.style(Ink::Fill).fg, Style::reset().fg);
    }
}
