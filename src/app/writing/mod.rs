//! The rule writer's kit: write a rule, prove it, read about it, and hand it on.

mod case_edits;
pub(crate) mod examples;
mod idle_rules;
pub(crate) mod kind_fields;
pub mod lint;
pub mod listing;
pub mod mutants;
pub mod mutate;
pub mod new_findings;
pub mod new_rule;
pub mod outcome;
pub mod plain_words;
pub mod profile;
mod reads;
pub mod rule_page;
pub mod schema;
pub(crate) mod schema_config;
mod schema_declared;
mod schema_parts;
pub mod signatures;
pub mod watch;
