"""What is kept between runs, and where."""
