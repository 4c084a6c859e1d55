"""Tables and queries; the only layer that knows SQL."""
