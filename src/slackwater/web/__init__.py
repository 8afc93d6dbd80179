"""The office in a browser: pages and a typed API that call one action each and show what it says."""
