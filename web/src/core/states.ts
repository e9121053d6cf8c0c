// What a screen says that waits, has nothing to show or lost its station. The other words are in words.ts.

export const states = {
  long: "The station has not answered yet. It may be busy; nothing is lost.",
  byItself: "It is asked again by itself as soon as the station answers.",
  own: "Asking changed nothing. If it stays so, the station's log says more.",
  look: "Is the station switched on, and is this device in its network? It comes back by itself; what is recorded is safe.",
  /** Lists that are empty, and what fills them. */
  formulas: "A formula says what goes in, how much of it, and how exactly. Write one, or put a file into the station's formula folder.",
  ingredients: "Ingredients carry allergens, cautions and what a mix is worked out from. Take them from the table that ships, from a file, or write one.",
  noIngredients: "There is no ingredient yet that goods could be of.",
  lots: "What is received here is told before a batch: which lot to take first, what is expired, what is short.",
  records: "Every batch that is weighed comes here, with all that was seen on the scale.",
  trends: "With a few batches weighed, it is seen here whether something drifts.",
  lastHeard: "As last heard from the station.",
  weigh: "Weigh something",
  allLots: "All lots",
  allIngredients: "All ingredients",
};
