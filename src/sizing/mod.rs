//! x
mod optimum;
