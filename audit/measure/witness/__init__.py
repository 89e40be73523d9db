"""What the pictures themselves show: pure functions over small pictures, and the step that runs them."""
