"""Help for the owner, and what everybody meets."""

from django.utils.translation import gettext_lazy as _

from workshop.help.made_of import Chapter, Help, pages

CHAPTER = Chapter("owner", _("Everybody, and the owner"), (
    Help(
        _("Today"),
        _("This page shows what you can do now, the most urgent first."),
        _("Do the first act. It leads to the right page."),
        _("Red is late, short or hot. Ask if you do not know why."),
        pages("home find", "orders"),
        (), "first",
    ),
    Help(
        _("Your own page"),
        _("Here are your password, your language and your phones."),
        _("Choose the language in which the pages speak to you."),
        _("Sign out where others use the same screen."),
        pages("own_page own_language clock", "workshop"),
    ),
    Help(
        _("Workshop"),
        _("These are the standing facts: business, people, hours, prices of work."),
        _("Go down the list once; what you leave is the usual."),
        _("What you change here changes every new price and day."),
        pages("facts business", "workshop"),
        ("standard", "overhead"),
    ),
    Help(
        _("People who sign in"),
        _("These are the people of the workshop, and what each may do."),
        _("Add a person, choose the role, and give her the invitation."),
        _("Whoever leaves is switched off the same day."),
        pages("person_list person_add person_change person_invite person_second_step_forget",
              "workshop"),
        (), "hand_over",
    ),
    Help(
        _("Hours and days off"),
        _("The plan of the kilns and every promise follow these hours."),
        _("Write the usual week, then the days that differ."),
        _("A forgotten holiday makes every promise a day too early."),
        (*pages("hours_week hours_list hours_add hours_change closed_day_list closed_day_add"
                " closed_day_change", "workshop"), "orders:calendar_address"),
        ("careful_day",), "hour",
    ),
    Help(
        _("Steps, pay and costs"),
        _("Here stand the minutes of each step, its pay, rent and VAT."),
        _("Begin with the usual steps; better them when you have measured."),
        _("Rates of VAT are set by law: ask your tax office."),
        pages("rate_usual rate_list rate_add rate_change standing_cost_list standing_cost_add"
              " standing_cost_change tax_rate_list tax_rate_add tax_rate_change series_list"
              " series_change", "workshop"),
        ("standard", "overhead"), "pay",
    ),
    Help(
        _("Who did what"),
        _("Every change stands here with its hour and its name."),
        _("Look for the day and the name."),
        _("What asks for two people is done only when the second agrees."),
        pages("act_list second_look_list", "workshop"),
        (), "good",
    ),
    Help(
        _("Copies"),
        _("A copy of the book saves the workshop when the computer breaks."),
        _("Keep three, on two kinds of disk, one in another house."),
        _("A copy that was never restored is only a hope: try it."),
        pages("copy_list copy_check", "workshop"),
        (), "pack",
    ),
    Help(
        _("Phones"),
        _("Phones of the yard and the kiln come in here, each with its own pass."),
        _("Pair the phone beside this screen."),
        _("Send a lost phone away at once; what it had not sent is lost."),
        pages("phones phones_let_in phone_end phone_pin phone_pair", "workshop"),
        (), "call",
    ),
    Help(
        _("Moving in"),
        _("Here lists you already have are brought in, and given out."),
        _("Take the workbook, fill it in, and look at every row before it is written."),
        _("Nothing is written until every row is right."),
        pages("moving_in", "orders"),
        (), "order",
    ),
))  # fmt: skip
