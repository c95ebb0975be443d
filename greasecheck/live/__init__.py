"""The live page for the phone in the garage; empty on purpose, so that start-up stays light."""
