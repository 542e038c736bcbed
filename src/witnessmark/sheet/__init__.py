"""What is printed: sheets as blocks, flowed onto pages of texts and lines, drawn as PDF or SVG."""
