//! Parts that can be bought: standard values, stock lists, and networks made of them.

pub mod choice;
pub mod network;
pub mod pairs;
pub mod series;
pub mod stock;
