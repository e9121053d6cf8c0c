"""The station on the network: REST, a live websocket, and the page; an edge of the house."""
