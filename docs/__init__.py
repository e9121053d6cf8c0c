"""What stands beside the README: pictures of every screen, and the tour that takes them."""
