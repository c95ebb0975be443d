"""Where the reference sheet lies in a photo."""
