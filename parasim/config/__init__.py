"""What a person may write: the design file, as read-only specs."""
