"""Mass properties: cloth, lines and payload, trapped air and apparent mass."""
