"""Rules, protocols, sources and places as dated files, and the code that loads and checks them."""
