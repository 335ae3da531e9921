//! What a kind's file says of its parts in sums over the whole build: where their heat goes, and
//! which share of the price they are.

/// Where the heat of a kind's parts goes inside the case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Heat {
    /// Into the air around the processor.
    #[default]
    Processor,
    /// Into the air around the expansion cards.
    Cards,
    /// Into the air behind the front panel.
    Front,
    /// To the processor's cooler, and with liquid cooling to its radiator.
    Cooler,
}

impl Heat {
    /// Its words in files.
    pub(crate) const WORDS: [(&str, Self); 4] = [
        ("processor", Self::Processor),
        ("cards", Self::Cards),
        ("front", Self::Front),
        ("cooler", Self::Cooler),
    ];
}

/// Which share of the price a kind's parts are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BilledAs {
    /// The PC itself.
    #[default]
    Pc,
    /// Monitors.
    Displays,
    /// What stands beside the PC or runs on it: keyboard, speakers, licence.
    Extras,
}

impl BilledAs {
    /// Its words in files.
    pub(crate) const WORDS: [(&str, Self); 3] =
        [("pc", Self::Pc), ("displays", Self::Displays), ("extras", Self::Extras)];
}
