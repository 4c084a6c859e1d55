"""Pages: parse a request, call one service, show the answer."""
