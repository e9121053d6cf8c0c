"""The page, built by Vite into ``dist`` beside this file and served as it stands."""
