// What a screen says that waits, has nothing to show or lost its station. The other words are in words.ts.

export const states = {
  long: "The station has not answered yet. It may be busy; nothing is lost.",
  byItself: "It is asked again by itself as soon as the station answers.",
};
