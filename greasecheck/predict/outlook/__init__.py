"""From a fitted tub to dates, curves and notes on their trust."""
