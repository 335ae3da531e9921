//! The engine as other programs see it: its public names, the order of its rooms, and the example
//! that embeds it. Runs without the application too.

mod embed;
mod face;
mod rooms;
