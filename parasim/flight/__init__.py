"""One question a module: trim, glide, drop. One public function, one result type each."""
