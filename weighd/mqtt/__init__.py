"""The floor over MQTT 5: what a station says of itself, and what a watcher hears of all.

``aiomqtt`` (the extra ``floor``) is imported by whoever connects, and by nobody else.
"""
