"""Planning for the pages: orders wait in a queue, and a process of its own plans them."""
