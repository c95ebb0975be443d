"""The limits that a photo is judged by, and its verdict."""
