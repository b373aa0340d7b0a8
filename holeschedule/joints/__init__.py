"""What holds parts together: how they fit, the places where rivets go, and which rivets."""
