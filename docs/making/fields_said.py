"""What the fields of formula files mean; a test names the ones that are missing here."""

from __future__ import annotations

from collections.abc import Mapping

FIELDS: Mapping[str, Mapping[str, str]] = {
    "": {
        "name": "What it is called, on the page and on records. Has to be given.",
        "note": "Free text that whoever weighs is shown.",
        "scenario": "Where the formula is from, for one that is invented or an example.",
        "kind": "The class of product whose limits the mix is held to, like `gelato`.",
        "cautions": "Texts that whoever begins the batch is shown.",
        "product": "What is made: how long it keeps, how it is stored, its trade number.",
        "ingredients": "Ingredients that this file describes itself, beside those of "
        "`ingredients.toml`.",
        "additions": "What is weighed in, in this order. At least one.",
        "steps": "What is done after weighing, in this order.",
    },
    "ingredients.ID": {
        "name": "What it is called. Has to be given.",
        "allergens": "A list of the allergens it brings; `[]` says that it brings none.",
        "caution": "What whoever weighs it has to mind.",
        "composition": "What 100 g of it hold.",
        "density_g_ml": "Grams a millilitre, for volumes.",
        "cost_per_kg": "Price of a kilogram, in your own currency. No part of the revision.",
        "supplier_code": "The supplier's number, or its trade number: a scanned code is known by "
        "it.",
        "shelf_life_days": "Days that it keeps in its closed pack.",
        "shelf_life_opened_days": "Days that it keeps once the pack is opened.",
        "source": "Where the composition was taken from.",
        "instead": "What may stand in for it, and how much.",
    },
    "ingredients.ID.instead": {
        "ingredient": "The id of what may stand in for it.",
        "ratio": "Grams of that for a gram of this.",
        "note": "What to mind.",
        "source": "Where the ratio was taken from.",
    },
    "ingredients.ID.composition": {
        "water": "Grams of water in 100 g.",
        "fat": "Grams of fat, milk fat included.",
        "msnf": "Grams of milk solids-not-fat, their lactose and protein included.",
        "whey_solids": "Grams of whey solids.",
        "stabiliser": "Grams of stabiliser and emulsifier.",
        "other_solids": "Grams of solids that are none of the others: cocoa, fibre, starch.",
        "alcohol": "Grams of alcohol (ethanol).",
        "salt": "Grams of salt.",
        "sugars": "Grams of each kind of sugar: `{ sucrose = 12.5, glucose = 3 }`; "
        "`{ unspecified = 12.5 }` where the label does not say.",
        "milk_fat": "How much of the fat is milk fat.",
        "lactose": "How much of the milk or whey solids is lactose.",
        "protein": "How much of the solids is protein.",
        "ash": "How much of the solids is ash, without the salt.",
    },
    "additions": {
        "ingredient": "The id of an ingredient. Has to be given.",
        "target": "How much: `410 g`, in mg, g, kg, oz or lb. Has to be given.",
        "tolerance": "What it may be off by: `2 g`, `1 %`, `+1 / -2 g`, `2 %, at least 0.3 g`. Has "
        "to be given.",
        "method": "`by difference`, where its own container is weighed instead of the bowl.",
        "carrier": "The id of what it may be made a premix with, where it is too little to weigh.",
    },
    "steps": {
        "kind": "`mix`, `heat-treat`, `cool`, `age`, `freeze`, `harden`, `temper` or `fill`.",
        "name": "What it is called; usual words otherwise.",
        "how": "How it is done, in your own words.",
        "with": 'What it is done with. `"dry ice"` brings its own cautions.',
        "temperature": "`at most 4 °C`, `at least 60 °C`, `-14 to -11 °C`; °F too.",
        "time": "`within 90 min`, `at least 4 h`, `4 h to 24 h`.",
        "table": "For `heat-treat`: the published table that it follows.",
        "cautions": "What has to be confirmed, each by its name, before the step begins.",
    },
    "steps.cautions": {
        "name": "What it is confirmed by.",
        "text": "What to mind.",
    },
    "product": {
        "keeps_days": "Days that it keeps after the day on which it was weighed.",
        "storage": "How it is kept, as labels have it.",
        "gtin": "A trade number of your own, 14 digits.",
    },
    "classes.ID": {
        "name": "What the class is called.",
        "limits": "Its limits.",
    },
    "classes.ID.limits": {
        "of": "The quantity, or a list of parts to add.",
        "min": "The least, in percent of the mix unless the quantity has a unit of its own.",
        "max": "The most.",
        "source": "Where the limit was taken from.",
    },
}
