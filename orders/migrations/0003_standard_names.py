"""Models by their standard names; the tables keep the names under which the triggers know them."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [('orders', '0002_papers_are_frozen'), ('stock', '0012_standard_names'), ('workshop', '0007_standard_names')]

    operations = [
        migrations.AlterModelTable("Paper", table="orders_paper"),
        migrations.RenameModel("Paper", "Document"),
        migrations.AlterModelTable("PaperLine", table="orders_paperline"),
        migrations.RenameModel("PaperLine", "DocumentLine"),
        migrations.AlterModelTable("PaperFile", table="orders_paperfile"),
        migrations.RenameModel("PaperFile", "DocumentFile"),
        migrations.AlterModelTable("PaymentShare", table="orders_paymentshare"),
        migrations.RenameModel("PaymentShare", "PaymentAllocation"),
        migrations.AlterModelTable("BeadJob", table="orders_beadjob"),
        migrations.RenameModel("BeadJob", "WorkOrder"),
        migrations.AlterModelTable("Allocation", table="orders_allocation"),
        migrations.RenameModel("Allocation", "StockReservation"),
        migrations.RenameField("order", "careful_on", "p90_on"),
    ]
