//! Plain numerical work on `f64`, named with its unit by the caller.

pub mod bootstrap;
pub mod least_squares;
pub mod quantiles;
pub mod splitmix;
pub mod symmetric;

