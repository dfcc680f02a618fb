//! The world, the laws, and yesterday.
