"""What a craft does differently with another setup. The library's word for it is `setuplint.compare(old, new)`."""
