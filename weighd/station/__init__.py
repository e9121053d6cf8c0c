"""The use of the domain: a station is a fold over its inputs. Still no concrete I/O."""
