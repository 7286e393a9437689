"""One module per chapter of the technical file. Each turns the book into pages; `document.content` lists them."""
