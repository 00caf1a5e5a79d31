"""Records, pages, feeds and the queue; remembers and shows, decides nothing."""
