//! The tables, and the steps from each format to the next.
