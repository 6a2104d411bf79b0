"""Tables, pictures and files a person reads."""
